//! Position, Jacobian, gravity and wrench of a seven-joint arm, side by side: this crate, the same
//! mathematics in `nalgebra`, and in a general rigid-body library (PyPI `pin`, C++). One run, one core,
//! turn by turn; what comes out is checked before anything is timed.
//!
//! ```text
//! .ci/side-by-side
//! ```
//!
//! builds the C++ side with the headers that the Python packages carry. Without it,
//! `cargo run --release -p bolting-host --example side_by_side` compares the two in Rust.

mod ours;
mod rigid_body;
mod textbook;

use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

use bolting_host::urdf;

/// Joints of the arm.
pub const N: usize = 7;
const URDF: &str = include_str!("../../../tests/reference/arm7.urdf");
const TABLE: &str = include_str!("../../../tests/reference/kinematics.csv");

/// Prior of the wrench, 1 sigma: force in N, moment in N·m.
pub const PRIOR: (f64, f64) = (200.0, 50.0);
/// Standard uncertainty of each joint torque, base first, N·m.
pub const TORQUE_U_NM: [f64; N] = [0.8, 0.8, 0.5, 0.5, 0.2, 0.2, 0.1];
/// Bolt axis in the base frame, through the tip.
pub const AXIS: [f64; 3] = [0.36, -0.48, 0.8];
/// Wrench at the tip: force x y z in N, moment x y z in N·m.
const WRENCH: [f64; 6] = [12.0, -7.0, 30.0, 4.0, -2.5, 18.0];

const ROUNDS: usize = 25;
/// Times that each round goes through all poses.
const PASSES: usize = 100;
/// Largest difference of two answers that share no code: the moment as a part of the largest
/// moment, its uncertainty as a part of itself. Single precision has seven digits, of which the
/// poorest pose of the table costs three.
const TOLERANCE: f64 = 2e-3;

/// One sample to be judged: joint positions in rad and torques in N·m, base first.
#[derive(Clone, Copy)]
pub struct Sample {
    /// Positions.
    pub position_rad: [f64; N],
    /// What the joints read.
    pub torque_nm: [f64; N],
}

/// Moment about the axis and its standard uncertainty, N·m.
#[derive(Clone, Copy, Debug, Default)]
pub struct Answer {
    /// Moment.
    pub moment_nm: f64,
    /// Its uncertainty.
    pub u_nm: f64,
}

/// One way to do it.
trait Contender {
    fn name(&self) -> &'static str;
    fn answers(&mut self, samples: &[Sample]) -> Result<Vec<Answer>, String>;
    /// Nanoseconds per sample in one round of `passes` over the samples.
    fn round(&mut self, samples: &[Sample], passes: usize) -> Result<f64, String>;
}

/// A contender that is called here.
struct Here<F> {
    name: &'static str,
    solve: F,
}

impl<F: Fn(&Sample) -> Answer> Contender for Here<F> {
    fn name(&self) -> &'static str {
        self.name
    }

    fn answers(&mut self, samples: &[Sample]) -> Result<Vec<Answer>, String> {
        Ok(samples.iter().map(&self.solve).collect())
    }

    fn round(&mut self, samples: &[Sample], passes: usize) -> Result<f64, String> {
        let started = Instant::now();
        for _ in 0..passes {
            for sample in samples {
                black_box((self.solve)(black_box(sample)));
            }
        }
        Ok(started.elapsed().as_secs_f64() * 1e9 / (passes * samples.len()) as f64)
    }
}

/// Poses and holding torques of the reference table, and on top of them what the wrench asks for.
fn samples() -> Result<Vec<Sample>, csv::Error> {
    let mut samples = Vec::new();
    for row in csv::Reader::from_reader(TABLE.as_bytes()).deserialize() {
        let row: Vec<f64> = row?;
        let jacobian = &row[N + 12..];
        let gravity_nm = &jacobian[6 * N..];
        samples.push(Sample {
            position_rad: std::array::from_fn(|i| row[i]),
            torque_nm: std::array::from_fn(|i| {
                let from_wrench: f64 = (0..6).map(|k| jacobian[k * N + i] * WRENCH[k]).sum();
                gravity_nm[i] + from_wrench
            }),
        });
    }
    Ok(samples)
}

fn check(name: &str, ours: &[Answer], theirs: &[Answer]) -> Result<(), String> {
    let scale_nm = ours.iter().map(|a| a.moment_nm.abs()).fold(0.0, f64::max);
    let mut worst = (0.0_f64, 0.0_f64);
    for (a, b) in ours.iter().zip(theirs) {
        worst.0 = worst.0.max((a.moment_nm - b.moment_nm).abs() / scale_nm);
        worst.1 = worst.1.max((a.u_nm / b.u_nm - 1.0).abs());
    }
    eprintln!(
        "{name}: moment within {:.1e} of the largest, uncertainty within {:.1e} of itself, {} poses",
        worst.0,
        worst.1,
        theirs.len()
    );
    let close = worst.0 <= TOLERANCE && worst.1 <= TOLERANCE;
    if ours.len() == theirs.len() && close {
        Ok(())
    } else {
        Err(format!(
            "{name} does not agree with this crate: the times mean nothing"
        ))
    }
}

fn compare(rigid_body: Option<&str>) -> Result<(), String> {
    let samples = samples().map_err(|e| format!("tests/reference/kinematics.csv: {e}"))?;
    let arm = urdf::read(URDF, None, "tool_flange").map_err(|e| format!("arm7.urdf: {e}"))?;
    let ours = ours::Ours::new(&arm.arm)?;
    let double = textbook::Textbook::<f64>::new(&arm.arm);
    let single = textbook::Textbook::<f32>::new(&arm.arm);
    let mut contenders: Vec<Box<dyn Contender + '_>> = vec![
        Box::new(Here {
            name: "bolting-monitor, f32",
            solve: |s: &Sample| ours.solve(s),
        }),
        Box::new(Here {
            name: "nalgebra, f32",
            solve: |s: &Sample| single.solve(s),
        }),
        Box::new(Here {
            name: "nalgebra, f64",
            solve: |s: &Sample| double.solve(s),
        }),
    ];
    if let Some(program) = rigid_body {
        contenders.push(Box::new(rigid_body::RigidBody::start(program, &samples)?));
    }
    let mut reference: Option<Vec<Answer>> = None;
    for contender in &mut contenders {
        let answers = contender.answers(&samples)?;
        match &reference {
            None => reference = Some(answers),
            Some(ours) => check(contender.name(), ours, &answers)?,
        }
    }
    // In turns, so that a busy machine disturbs all alike; the shortest round is the undisturbed one.
    let mut best = vec![f64::INFINITY; contenders.len()];
    for _ in 0..ROUNDS {
        for (contender, best) in contenders.iter_mut().zip(&mut best) {
            *best = best.min(contender.round(&samples, PASSES)?);
        }
    }
    println!("| | time, this crate = 1 |\n|---|---:|");
    for (contender, time) in contenders.iter().zip(&best) {
        println!("| {} | {:.2} |", contender.name(), time / best[0]);
    }
    eprintln!("this crate: {:.0} ns per sample", best[0]);
    Ok(())
}

fn main() -> ExitCode {
    let program = std::env::args().nth(1);
    match compare(program.as_deref()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("side_by_side: {error}");
            ExitCode::FAILURE
        }
    }
}
