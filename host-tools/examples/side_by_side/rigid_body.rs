//! The general rigid-body library, in a process of its own: `rigid_body.cpp`.
//!
//! It is given the samples as lines of 14 figures and then a command per line: `answers` prints
//! moment and uncertainty of each, `round PASSES` the nanoseconds per sample.

use std::io::{BufRead, BufReader, Write};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use super::{AXIS, Answer, Contender, PRIOR, Sample, TORQUE_U_NM};

const ARM: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/reference/arm7.urdf");

/// The running program.
pub struct RigidBody {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
}

impl RigidBody {
    /// Starts `program` and gives it the samples.
    pub fn start(program: &str, samples: &[Sample]) -> Result<Self, String> {
        let mut child = Command::new(program)
            .arg(ARM)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .map_err(|e| {
                format!("{program} does not start ({e}): build it with .ci/side-by-side")
            })?;
        let (Some(to), Some(from)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(format!("{program} has no pipes"));
        };
        let mut it = Self {
            child,
            to,
            from: BufReader::new(from),
        };
        let (f, m) = PRIOR;
        it.tell(&[f, m])?;
        it.tell(&AXIS)?;
        it.tell(&TORQUE_U_NM)?;
        it.tell(&[samples.len() as f64])?;
        for sample in samples {
            it.tell(&[sample.position_rad, sample.torque_nm].concat())?;
        }
        Ok(it)
    }

    fn tell(&mut self, figures: &[f64]) -> Result<(), String> {
        let line: Vec<String> = figures.iter().map(|x| format!("{x:e}")).collect();
        writeln!(self.to, "{}", line.join(" ")).map_err(|e| format!("rigid-body program: {e}"))
    }

    fn command(&mut self, command: &str) -> Result<(), String> {
        writeln!(self.to, "{command}")
            .and_then(|()| self.to.flush())
            .map_err(|e| format!("rigid-body program: {e}"))
    }

    fn figures(&mut self) -> Result<Vec<f64>, String> {
        let mut line = String::new();
        self.from
            .read_line(&mut line)
            .map_err(|e| format!("rigid-body program: {e}"))?;
        line.split_whitespace()
            .map(|word| {
                word.parse()
                    .map_err(|_| format!("rigid-body program printed {line:?}, not figures"))
            })
            .collect()
    }
}

impl Contender for RigidBody {
    fn name(&self) -> &'static str {
        "general rigid-body library (C++), f64"
    }

    fn answers(&mut self, samples: &[Sample]) -> Result<Vec<Answer>, String> {
        self.command("answers")?;
        let mut answers = Vec::new();
        for _ in samples {
            match self.figures()?.as_slice() {
                &[moment_nm, u_nm] => answers.push(Answer { moment_nm, u_nm }),
                other => return Err(format!("rigid-body program answered {other:?}")),
            }
        }
        Ok(answers)
    }

    fn round(&mut self, _: &[Sample], passes: usize) -> Result<f64, String> {
        self.command(&format!("round {passes}"))?;
        match self.figures()?.as_slice() {
            &[time] => Ok(time),
            other => Err(format!("rigid-body program timed {other:?}")),
        }
    }
}

impl Drop for RigidBody {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
