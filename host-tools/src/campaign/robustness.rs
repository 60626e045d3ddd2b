//! How the figures hold as one thing after the other gets worse.

use std::io::Write;
use std::path::Path;

use super::figures::{Share, quantile, rms};
use super::plot::{Line, Plot};
use super::report::degrees;
use super::run::Scored;
use super::run_all;
use crate::simulate::Knobs;
use crate::whole_file;

/// One thing that gets worse.
struct Sweep {
    /// File name of its plot.
    name: &'static str,
    what: &'static str,
    values: &'static [f64],
    knobs: fn(f64) -> Knobs,
}

const SWEEPS: [Sweep; 5] = [
    Sweep {
        name: "noise",
        what: "factor on the torque noise",
        values: &[1.0, 2.0, 4.0, 8.0],
        knobs: |x| Knobs {
            noise_factor: x,
            ..Knobs::default()
        },
    },
    Sweep {
        name: "friction",
        what: "deviation of joint friction, 1 sigma, part of it",
        values: &[0.05, 0.1, 0.2, 0.4],
        knobs: |x| Knobs {
            friction_error: Some(x),
            ..Knobs::default()
        },
    },
    Sweep {
        name: "rate",
        what: "samples per second",
        values: &[100.0, 250.0, 1000.0, 4000.0],
        knobs: |x| Knobs {
            rate_hz: Some(x),
            ..Knobs::default()
        },
    },
    Sweep {
        name: "dropped",
        what: "part of the samples missing",
        values: &[0.0, 0.02, 0.05, 0.1],
        knobs: |x| Knobs {
            dropped_part: x,
            ..Knobs::default()
        },
    },
    Sweep {
        name: "pose",
        what: "pose: 0 elbow bent, 1 almost straight, angle head",
        values: &[0.0, 0.33, 0.67, 1.0],
        knobs: |x| Knobs {
            pose: Some(x),
            ..Knobs::default()
        },
    },
];

/// One point of the curves; all but the last two in percent.
struct Figures {
    false_stops: f64,
    found: f64,
    detected: f64,
    not_assessable: f64,
    torque_rms: f64,
    covered: f64,
    snug_deg: f64,
}

impl Figures {
    fn of(runs: &[Scored]) -> Self {
        let plain = || runs.iter().filter(|r| r.plain());
        let faulty = || runs.iter().filter(|r| r.faulty());
        let snug = plain().filter_map(|r| r.snug_error_deg).map(f64::abs);
        Self {
            false_stops: Share::of(runs.iter().filter(|r| r.sound), |r| r.false_stop()).percent(),
            found: Share::of(faulty(), |r| r.found().is_some()).percent(),
            detected: Share::of(faulty(), |r| r.detected()).percent(),
            not_assessable: Share::of(plain(), |r| r.verdict == "not_assessable").percent(),
            torque_rms: 100.0 * rms(plain().map(|r| r.torque_part())),
            covered: Share::of(plain(), |r| r.torque_error_nm.abs() <= 1.96 * r.torque_u_nm)
                .percent(),
            snug_deg: quantile(snug.collect(), 0.95),
        }
    }
}

/// Runs all sweeps with `count` bolts at each point, prints a table each and writes a plot each.
///
/// # Errors
/// When the folder or a plot cannot be written, or `out` cannot.
pub(super) fn run(
    seed: u64,
    count: usize,
    folder: &Path,
    out: &mut impl Write,
) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    writeln!(
        out,
        "# Robustness\n\n{count} simulated bolts at each point. The torque RMS counts all sound ones done up, also those whose torque was told as not observable."
    )?;
    for sweep in &SWEEPS {
        writeln!(
            out,
            "\n## {}\n\n| value | false stops % | found % | detected % | not assessable % | torque RMS % of target | in 95 % interval % | snug 95 % |\n|---|---|---|---|---|---|---|---|",
            sweep.what
        )?;
        let mut points = Vec::new();
        for value in sweep.values {
            let p = Figures::of(&run_all(seed, 0..count, &(sweep.knobs)(*value))?);
            writeln!(
                out,
                "| {value} | {:.1} | {:.1} | {:.1} | {:.1} | {:.2} | {:.1} | {} |",
                p.false_stops,
                p.found,
                p.detected,
                p.not_assessable,
                p.torque_rms,
                p.covered,
                degrees(p.snug_deg)
            )?;
            points.push(p);
        }
        let line = |name, of: fn(&Figures) -> f64| Line {
            name,
            values: points.iter().map(of).collect(),
        };
        let decisions = Plot {
            title: sweep.what,
            places: sweep.values,
            top: 100.0,
            unit: "%",
            lines: vec![
                line("found", |p| p.found),
                line("detected", |p| p.detected),
                line("false stops", |p| p.false_stops),
                line("not assessable", |p| p.not_assessable),
                line("in 95 % interval", |p| p.covered),
            ],
        };
        let torque = Plot {
            title: sweep.what,
            places: sweep.values,
            top: 8.0,
            unit: "%",
            lines: vec![line("torque RMS", |p| p.torque_rms)],
        };
        let snug = Plot {
            title: sweep.what,
            places: sweep.values,
            top: 40.0,
            unit: "°",
            lines: vec![line("snug error, 95 %", |p| p.snug_deg)],
        };
        writeln!(out)?;
        for (of, plot) in [("found", decisions), ("torque", torque), ("snug", snug)] {
            let name = format!("robustness-{}-{of}.svg", sweep.name);
            whole_file::write(&folder.join(&name), plot.svg().as_bytes())?;
            writeln!(out, "![{of} against {}]({name})", sweep.what)?;
        }
    }
    Ok(())
}
