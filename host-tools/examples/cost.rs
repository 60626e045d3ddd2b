//! Counts what `Monitor::update` costs on emulated controllers and prints the table as markdown.
//!
//! Use `.ci/cost`, which builds `examples/cost` first. Arguments: the folder with its builds, and
//! `--check FILE` to compare with the figures that were accepted or `--accept FILE` to write them.

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::path::Path;
use std::process::{Command, ExitCode};

use bolting_host::description::Description;
use bolting_host::emulator::job_bytes;
use bolting_host::simulate::{self, Bolt, Fault, JOINTS, Row, Sampling, Scenario, Stated};
use bolting_monitor::arm::Transform;
use bolting_monitor::math::{axis_rotation, mat_mul};
use rayon::prelude::*;

type Result<T> = std::result::Result<T, Box<dyn Error>>;

/// A figure may exceed the accepted one by this part.
const ROOM: f64 = 0.05;
/// Instructions in the calibration.
const CALIBRATION: f64 = 4000.0;
/// Words before and after the rows.
const HEAD: usize = 4;
const TAIL: usize = 2;

const UPDATE: &str = "`Monitor::update`";
const STAGES: [&str; 6] = [
    "arm: pose, Jacobian, gravity, friction, inertia",
    "wrench: moment and its uncertainty",
    "turn: twist, strokes, bolt angle",
    "curve: steps, window, level, bins",
    "detectors and the rest (by difference)",
    UPDATE,
];

/// What an update bears where samples are gathered, in the order of the numbers in the last word of a row.
const BEARS: [&str; 6] = [
    "gathering alone (tare)",
    "pose, gravity, friction, inertia, health",
    "torque, twist, advance",
    "bolt angle, strokes, a step's next judges",
    "curve, sample detectors, phase",
    "more than one stage (the first samples; a block cut short by a gap)",
];

/// An emulated controller: name in the table, Rust's target, the emulator and its board.
struct Core {
    name: &'static str,
    target: &'static str,
    qemu: &'static [&'static str],
    /// How many of the runs, and at which rates, Hz: those without a floating-point unit take long.
    runs: usize,
    rates_hz: &'static [u32],
}

const CORES: [Core; 3] = [
    Core {
        name: "Cortex-M4F",
        target: "thumbv7em-none-eabihf",
        qemu: &[
            "qemu-system-arm",
            "-machine",
            "mps2-an386",
            "-cpu",
            "cortex-m4",
        ],
        runs: 3,
        rates_hz: &[250, 4000],
    },
    // The board has no Cortex-M0+; its core runs that core's instructions, and they are what counts.
    Core {
        name: "Cortex-M0+ (soft float)",
        target: "thumbv6m-none-eabi",
        qemu: &[
            "qemu-system-arm",
            "-machine",
            "mps2-an386",
            "-cpu",
            "cortex-m4",
        ],
        runs: 1,
        rates_hz: &[250],
    },
    Core {
        name: "RV32IMAC (soft float)",
        target: "riscv32imac-unknown-none-elf",
        qemu: &["qemu-system-riscv32", "-machine", "virt", "-bios", "none"],
        runs: 1,
        rates_hz: &[250],
    },
];

/// Instructions of each stage, and of the whole, for one sample.
type Counts = [f64; STAGES.len()];

/// A rate from which on samples are gathered, Hz.
const GATHERED_HZ: u32 = 1500;

#[derive(Default)]
struct Measured {
    samples: Vec<Counts>,
    /// What each of them bore: place in [`BEARS`].
    bears: Vec<usize>,
    monitor_bytes: u32,
    stack_new: u32,
    stack_update: u32,
    stack_summary: u32,
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let (builds, action) = match arguments[..] {
        [builds] => (builds, None),
        [builds, action @ ("--check" | "--accept"), file] => (builds, Some((action, file))),
        _ => return Err("usage: cost BUILDS [--check FILE | --accept FILE]".into()),
    };
    let jobs: Vec<(&Core, usize, u32)> = CORES
        .iter()
        .flat_map(|core| [(core, 7), (core, 6)])
        .flat_map(|(core, joints)| core.rates_hz.iter().map(move |rate| (core, joints, *rate)))
        .collect();
    let all = jobs
        .par_iter()
        .map(|(core, joints, rate_hz)| {
            let elf = Path::new(builds)
                .join(core.target)
                .join("release/bolting-cost");
            // Error texts, because errors of any kind do not pass between threads.
            measure(core, &elf, *joints, *rate_hz).map_err(|e| e.to_string())
        })
        .collect::<std::result::Result<Vec<Measured>, String>>()?;
    let mut figures = BTreeMap::new();
    for ((core, joints, rate_hz), measured) in jobs.iter().zip(&all) {
        print(core, *joints, *rate_hz, measured);
        for (name, figure) in accepted_figures(measured) {
            let name = format!("{},{joints},{rate_hz},{name}", core.target);
            figures.insert(name, figure);
        }
    }
    match action {
        Some(("--accept", file)) => Ok(fs::write(file, to_csv(&figures))?),
        Some((_, file)) => check(&figures, file),
        None => Ok(()),
    }
}

/// All runs through one core.
fn measure(core: &Core, elf: &Path, joints: usize, rate_hz: u32) -> Result<Measured> {
    let mut all = Measured::default();
    for scenario in scenarios(rate_hz).take(core.runs) {
        let folder = tempfile::tempdir()?;
        fs::write(
            folder.path().join("input.bin"),
            input(&scenario, joints, folder.path())?,
        )?;
        let (emulator, board) = core.qemu.split_first().ok_or("no emulator")?;
        let status = Command::new(emulator)
            .current_dir(&folder)
            .args(board)
            .args(["-icount", "shift=7", "-display", "none", "-monitor", "none"])
            .args([
                "-serial",
                "none",
                "-semihosting-config",
                "enable=on,target=native",
            ])
            .arg("-kernel")
            .arg(
                fs::canonicalize(elf)
                    .map_err(|e| format!("{}: {e}; run .ci/cost", elf.display()))?,
            )
            .stdin(std::process::Stdio::null())
            .status()
            .map_err(|e| format!("cannot start {emulator}: {e}"))?;
        if !status.success() {
            return Err(format!("{}: the emulator ended with {status}", core.name).into());
        }
        add(&mut all, &fs::read(folder.path().join("ticks.bin"))?)?;
    }
    Ok(all)
}

/// The same short bolt, sound and not. At a quarter of the usual rate angle steps are closed four times
/// as often, and a fast stroke closes one before all have judged the last.
fn scenarios(rate_hz: u32) -> impl Iterator<Item = Scenario> {
    [Fault::None, Fault::strip(), Fault::cross_thread()]
        .map(move |fault| Scenario {
            bolt: Bolt {
                rundown_turns: 2.5,
                ..Bolt::default()
            },
            stated: Stated {
                rundown_turns: 2.5,
                ..Stated::default()
            },
            sampling: Sampling {
                rate_hz: rate_hz.into(),
                ..Sampling::default()
            },
            fault,
            seed: 11,
            ..Scenario::default()
        })
        .into_iter()
}

/// What the program under test reads: no runs to frame, the plan with its length, then the samples with their number.
fn input(scenario: &Scenario, joints: usize, folder: &Path) -> Result<Vec<u8>> {
    let run = simulate::simulate(scenario);
    fs::write(folder.join("arm.urdf"), simulate::URDF)?;
    let text = simulate::description("cost", scenario, &run);
    let mut description = Description::parse(&text, &folder.join("bolt.toml"))?;
    let used: Vec<usize> = (0..JOINTS)
        .filter(|joint| joints == JOINTS || *joint != STIFF)
        .collect();
    if joints < JOINTS {
        stiffen(&mut description, &run.rows)?;
    }
    let job = job_bytes(&description)?;
    let mut bytes = vec![0; 4];
    bytes.extend((job.len() as u32).to_le_bytes());
    bytes.extend(&job);
    bytes.extend((run.rows.len() as u32).to_le_bytes());
    for row in &run.rows {
        let sample = row.sample();
        bytes.extend(sample.time_us.to_le_bytes());
        let velocity = sample.velocity_rad_s.unwrap_or_default();
        for values in [&sample.position_rad, &velocity, &sample.torque_nm] {
            bytes.extend(used.iter().flat_map(|joint| values[*joint].to_le_bytes()));
        }
    }
    Ok(bytes)
}

/// The joint that an arm of six does without: the one that makes the seventh redundant.
const STIFF: usize = 2;

/// Makes an arm of six joints: the stiff one stays where the run begins, its link goes to the next.
fn stiffen(description: &mut Description, rows: &[Row]) -> Result<()> {
    let arm = description.arm.as_mut().ok_or("the run has an arm")?;
    let first = rows.first().ok_or("the run has samples")?.sample();
    let stiff = arm.joints.remove(STIFF);
    let next = &mut arm.joints[STIFF];
    let turned = Transform {
        rotation: mat_mul(
            &stiff.origin.rotation,
            &axis_rotation(&stiff.axis, first.position_rad[STIFF]),
        ),
        translation_m: stiff.origin.translation_m,
    };
    next.origin = Transform {
        rotation: mat_mul(&turned.rotation, &next.origin.rotation),
        translation_m: turned.point(&next.origin.translation_m),
    };
    next.link.mass_kg += stiff.link.mass_kg;
    Ok(())
}

fn add(all: &mut Measured, bytes: &[u8]) -> Result<()> {
    let words: Vec<u32> = bytes
        .chunks_exact(4)
        .map(|word| {
            word.iter()
                .rev()
                .fold(0, |sum, byte| sum << 8 | u32::from(*byte))
        })
        .collect();
    let ([nops, nothing, monitor_bytes, stack_new], rest) = words
        .split_first_chunk::<HEAD>()
        .ok_or("ticks.bin has no head")?;
    let (rows, [stack_update, stack_summary]) = rest
        .split_last_chunk::<TAIL>()
        .ok_or("ticks.bin has no tail")?;
    let ticks_each = f64::from(nops - nothing) / CALIBRATION;
    all.monitor_bytes = *monitor_bytes;
    all.stack_new = all.stack_new.max(*stack_new);
    all.stack_update = all.stack_update.max(*stack_update);
    all.stack_summary = all.stack_summary.max(*stack_summary);
    for row in rows.chunks_exact(STAGES.len()) {
        let (bears, row) = row.split_last().ok_or("an empty row")?;
        let count = |ticks: &u32| (f64::from(ticks.saturating_sub(*nothing)) / ticks_each).round();
        let whole = row.last().map_or(0.0, count);
        let mut counts = [whole; STAGES.len()];
        for (stage, ticks) in row[..row.len() - 1].iter().enumerate() {
            counts[stage] = count(ticks);
        }
        counts[4] = whole - counts[..4].iter().sum::<f64>();
        all.samples.push(counts);
        all.bears.push(*bears as usize);
    }
    Ok(())
}

fn mean(samples: &[Counts], stage: usize) -> f64 {
    samples.iter().map(|counts| counts[stage]).sum::<f64>() / samples.len() as f64
}

fn worst(samples: &[Counts], stage: usize) -> Option<&Counts> {
    samples.iter().max_by(|a, b| a[stage].total_cmp(&b[stage]))
}

fn print(core: &Core, joints: usize, rate_hz: u32, measured: &Measured) {
    let samples = &measured.samples;
    let Some(worst_whole) = worst(samples, STAGES.len() - 1) else {
        return;
    };
    println!(
        "### {}, {joints} joints, {rate_hz} samples a second\n",
        core.name
    );
    if rate_hz > GATHERED_HZ {
        print_gathered(measured);
    } else {
        print_stages(samples, worst_whole);
    }
    println!(
        "\n{} samples; the monitor has {} bytes; stack: update {} bytes, summary {}, construction {}.\n",
        samples.len(),
        measured.monitor_bytes,
        measured.stack_update,
        measured.stack_summary,
        measured.stack_new
    );
}

/// Stage by stage, for an update that bears them all.
fn print_stages(samples: &[Counts], worst_whole: &Counts) {
    println!("| instructions | mean | worst | in the worst update |");
    println!("|---|---:|---:|---:|");
    for (stage, name) in STAGES.iter().enumerate() {
        println!(
            "| {name} | {:.0} | {:.0} | {:.0} |",
            mean(samples, stage),
            worst(samples, stage).map_or(0.0, |counts| counts[stage]),
            worst_whole[stage]
        );
    }
}

/// By what an update bears beside gathering its sample.
fn print_gathered(measured: &Measured) {
    let whole = STAGES.len() - 1;
    let all = measured.samples.len() as f64;
    println!("| instructions of an update that bears | part of all | mean | worst |");
    println!("|---|---:|---:|---:|");
    let row = |name: &str, counts: &[f64]| {
        let mean = counts.iter().sum::<f64>() / counts.len().max(1) as f64;
        let worst = counts.iter().copied().fold(0.0, f64::max);
        let part = 100.0 * counts.len() as f64 / all;
        println!("| {name} | {part:.2} % | {mean:.0} | {worst:.0} |");
    };
    let rows = || measured.samples.iter().zip(&measured.bears);
    for (number, name) in BEARS.iter().enumerate() {
        let counts: Vec<f64> = rows()
            .filter(|(_, bears)| **bears == number)
            .map(|(counts, _)| counts[whole])
            .collect();
        row(name, &counts);
    }
    row(
        UPDATE,
        &rows().map(|(counts, _)| counts[whole]).collect::<Vec<_>>(),
    );
}

fn accepted_figures(measured: &Measured) -> [(&'static str, f64); 6] {
    let whole = STAGES.len() - 1;
    let most = worst(&measured.samples, whole).map_or(0.0, |counts| counts[whole]);
    [
        ("update mean", mean(&measured.samples, whole).round()),
        ("update worst", most),
        ("monitor bytes", measured.monitor_bytes.into()),
        ("stack of update", measured.stack_update.into()),
        ("stack of summary", measured.stack_summary.into()),
        ("stack of construction", measured.stack_new.into()),
    ]
}

fn to_csv(figures: &BTreeMap<String, f64>) -> String {
    figures.iter().fold(
        "target,joints,rate_hz,figure,accepted\n".to_owned(),
        |text, (name, figure)| text + &format!("{name},{figure}\n"),
    )
}

/// Fails where a figure is above what was accepted, and where one is new or gone.
fn check(figures: &BTreeMap<String, f64>, file: &str) -> Result<()> {
    let text = fs::read_to_string(file).map_err(|e| format!("{file}: {e}"))?;
    let accepted: BTreeMap<&str, f64> = text
        .lines()
        .skip(1)
        .filter_map(|line| line.rsplit_once(','))
        .filter_map(|(name, figure)| Some((name, figure.parse().ok()?)))
        .collect();
    let mut faults = Vec::new();
    for (name, figure) in figures {
        match accepted.get(name.as_str()) {
            Some(limit) if *figure <= limit * (1.0 + ROOM) => {}
            Some(limit) => faults.push(format!("{name}: {figure}, accepted {limit}")),
            None => faults.push(format!("{name}: {figure}, none accepted")),
        }
    }
    for name in accepted.keys().filter(|name| !figures.contains_key(**name)) {
        faults.push(format!("{name}: not measured"));
    }
    if faults.is_empty() {
        return Ok(());
    }
    Err(format!(
        "{}\nmend it, or accept it with .ci/cost --accept and say why in the commit",
        faults.join("\n")
    )
    .into())
}
