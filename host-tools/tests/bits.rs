//! The emulated controller and this machine put the same runs into the same bytes.
//!
//! Samples go into the program of `examples/cost` as a file and frames come back as one, which is some
//! ten times faster than the emulated serial line of `emulator/`. Both sides are compiled from the
//! same two sources, included here; `DEVELOPERS.md` says what the equality rests on.

#[path = "../../examples/cost/src/frames.rs"]
mod frames;
#[path = "common/recorded.rs"]
mod recorded;
#[path = "../../examples/board/src/session.rs"]
mod session;

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use bolting_host::description::Description;
use bolting_host::emulator::QEMU;
use bolting_host::simulate::{self, Knobs};
use bolting_monitor::sample::{JointSample, SpindleReading};
use bolting_monitor::wire::{Plan, Sample};
use embedded_io::{ErrorType, Write, WriteReady};
use rayon::prelude::*;

use recorded::{Curve, TIGHTEN, UNDO};

/// Simulated runs, and samples a second in them: few, for they are many runs.
const SIMULATED: usize = 200;
const RATE_HZ: f64 = 50.0;
/// Runs that one emulator is given.
const BATCH: usize = 25;

/// The environment variable that names the program to run in the emulator.
const PROGRAM_VARIABLE: &str = "BOLTING_FRAMES_PROGRAM";

/// One run as the controller is given it.
struct Run {
    name: String,
    blob: Vec<u8>,
    samples: Vec<Sample>,
}

impl Run {
    fn new(name: String, text: &str, folder: &Path, samples: Vec<Sample>) -> Self {
        let description = Description::parse(text, &folder.join("bolt.toml"))
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let blob = description.plan().expect("checked");
        assert!(blob.len() <= session::PLAN_BYTES, "{name}: too long a plan");
        Self {
            blob,
            name,
            samples,
        }
    }

    /// What this machine makes of it.
    fn frames(&self) -> Vec<u8> {
        let plan = Plan::from_blob(&self.blob).expect("the plan just made");
        let mut sink = Sink(Vec::new());
        frames::run(&plan, self.samples.iter().cloned(), &mut sink)
            .unwrap_or_else(|| panic!("{}: refused", self.name));
        sink.0.push(0);
        sink.0
    }

    fn write(&self, out: &mut Vec<u8>) {
        out.extend((self.blob.len() as u32).to_le_bytes());
        out.extend(&self.blob);
        out.extend((self.samples.len() as u32).to_le_bytes());
        for sample in &self.samples {
            let bytes = postcard::to_stdvec(sample).expect("plain data");
            out.push(u8::try_from(bytes.len()).expect("a short sample"));
            out.extend(bytes);
        }
    }
}

struct Sink(Vec<u8>);

impl ErrorType for Sink {
    type Error = Infallible;
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        self.0.extend(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

impl WriteReady for Sink {
    fn write_ready(&mut self) -> Result<bool, Infallible> {
        Ok(true)
    }
}

/// The program, or `None` after saying why the test is skipped.
fn program() -> Option<PathBuf> {
    let path = std::env::var_os(PROGRAM_VARIABLE).map_or_else(
        || {
            Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("../examples/cost/target/thumbv7em-none-eabihf/release/bolting-cost")
        },
        PathBuf::from,
    );
    let emulator = Command::new(QEMU).arg("--version").output();
    if path.is_file() && emulator.is_ok() {
        return Some(fs::canonicalize(path).expect("it is there"));
    }
    assert_ne!(
        std::env::var("CI").as_deref(),
        Ok("true"),
        "{} and {QEMU} must be there in CI",
        path.display()
    );
    eprintln!("skipped: {} or {QEMU} is not there", path.display());
    None
}

/// What the emulated controller makes of some runs.
fn emulated(program: &Path, runs: &[Run]) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let mut input = (runs.len() as u32).to_le_bytes().to_vec();
    runs.iter().for_each(|run| run.write(&mut input));
    fs::write(folder.path().join("input.bin"), input).unwrap();
    let status = Command::new(QEMU)
        .current_dir(&folder)
        .args(["-machine", "mps2-an386", "-cpu", "cortex-m4"])
        .args(["-display", "none", "-monitor", "none", "-serial", "none"])
        .args(["-semihosting-config", "enable=on,target=native", "-kernel"])
        .arg(program)
        .stdin(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success(), "the emulator ended with {status}");
    fs::read(folder.path().join("frames.bin")).unwrap()
}

/// Compares run by run; a zero follows the last frame of each.
fn assert_same_bytes(program: &Path, runs: &[Run]) {
    let bytes: usize = runs
        .par_chunks(BATCH)
        .map(|batch| {
            let told = emulated(program, batch);
            let mut rest = told.as_slice();
            for run in batch {
                let own = run.frames();
                let same = rest.iter().zip(&own).take_while(|(a, b)| a == b).count();
                assert_eq!(same, own.len(), "{}: differs from byte {same} on", run.name);
                rest = &rest[same..];
            }
            assert!(rest.is_empty(), "the controller says more");
            told.len()
        })
        .sum();
    let samples: usize = runs.iter().map(|run| run.samples.len()).sum();
    println!(
        "{} runs, {samples} samples, {bytes} bytes of frames",
        runs.len()
    );
    assert!(bytes > 100 * runs.len(), "every run has something to say");
}

#[test]
fn simulated_runs_are_the_same_bytes_on_the_emulated_controller() {
    let Some(program) = program() else { return };
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("arm.urdf"), simulate::URDF).unwrap();
    let knobs = Knobs {
        rate_hz: Some(RATE_HZ),
        ..Knobs::default()
    };
    let runs: Vec<Run> = (0..SIMULATED)
        .into_par_iter()
        .map(|index| {
            let scenario = simulate::campaign_with(5, index, &knobs);
            let run = simulate::simulate(&scenario);
            let name = format!("run {index}");
            let text = simulate::description(&name, &scenario, &run);
            let samples = run.rows.iter().map(|row| Sample::new(&row.sample()));
            let samples = samples.collect::<Option<_>>().expect("seven joints");
            Run::new(name, &text, folder.path(), samples)
        })
        .collect();
    assert_same_bytes(&program, &runs);
}

#[test]
fn recorded_runs_are_the_same_bytes_on_the_emulated_controller() {
    let Some(program) = program() else { return };
    let (Some(tightening), Some(undoing)) =
        (recorded::tightening_curves(), recorded::undoing_curves())
    else {
        return;
    };
    let mut runs = spindle_runs(&tightening, TIGHTEN);
    runs.extend(spindle_runs(&undoing, UNDO));
    assert_same_bytes(&program, &runs);
}

fn spindle_runs(curves: &BTreeMap<String, Curve>, text: &str) -> Vec<Run> {
    let sample = |[time_s, angle_deg, torque_nm]: &[f64; 3]| {
        let mut sample = JointSample::<0>::new((time_s * 1e6).round() as u64, [], []);
        sample.spindle = Some(SpindleReading {
            angle_rad: angle_deg.to_radians() as f32,
            torque_nm: *torque_nm as f32,
        });
        Sample::new(&sample).expect("no joints")
    };
    curves
        .iter()
        .map(|(name, curve)| {
            let samples = curve.iter().map(sample).collect();
            Run::new(name.clone(), text, Path::new(""), samples)
        })
        .collect()
}
