//! The curves and marks as the script reads them.

use serde::Serialize;

use super::run::{PagePoint, PageRun};
use super::words;

/// Steps in one degree and in one N·m: far below what either is known to.
const STEPS: f64 = 100.0;

#[derive(Serialize)]
pub struct Data<'a> {
    steps: f64,
    runs: Vec<Run<'a>>,
}

#[derive(Serialize)]
struct Run<'a> {
    name: &'a str,
    verdict: &'static str,
    word: &'static str,
    invented: bool,
    /// Angle, standard uncertainty, torque.
    snug: Option<[f64; 3]>,
    /// Target and half width.
    target: Option<[f64; 2]>,
    snug_window: Option<[f64; 2]>,
    prevailing: Option<[f64; 2]>,
    findings: Vec<Finding<'a>>,
    angle: Vec<i64>,
    torque: Vec<Option<i64>>,
    u: Vec<Option<i64>>,
}

#[derive(Serialize)]
struct Finding<'a> {
    label: &'a str,
    stops: bool,
    angle: f64,
    torque: Option<f64>,
}

impl<'a> Data<'a> {
    pub fn of(runs: &'a [PageRun]) -> Self {
        Self {
            steps: STEPS,
            runs: runs.iter().map(Run::of).collect(),
        }
    }

    /// JSON that may stand in a script element: no text in it can end the element.
    pub fn json(&self) -> String {
        // Strings, numbers and lists of them: serialisation cannot fail.
        serde_json::to_string(self)
            .unwrap_or_default()
            .replace('<', "\\u003c")
    }
}

impl<'a> Run<'a> {
    fn of(run: &'a PageRun) -> Self {
        let (word, verdict) = words::verdict(run.verdict);
        let points: Vec<&PagePoint> = run
            .curve
            .iter()
            .filter(|p| p.angle_deg.is_finite())
            .collect();
        let torque = || points.iter().map(|p| p.torque_nm);
        Self {
            name: &run.name,
            verdict,
            word,
            invented: run.invented,
            snug: run
                .snug_angle_deg
                .filter(|a| a.value.is_finite())
                .map(|a| [a.value, a.u, run.snug_torque_nm].map(thousandths)),
            target: run
                .target
                .map(|t| [t.torque_nm, t.half_width_nm].map(thousandths)),
            snug_window: run.snug_window_deg.map(|w| w.map(thousandths)),
            prevailing: run.prevailing_nm.map(|w| w.map(thousandths)),
            findings: run
                .findings
                .iter()
                .filter(|f| f.angle_deg.is_finite())
                .map(|f| Finding {
                    label: &f.label,
                    stops: f.stops,
                    angle: thousandths(f.angle_deg),
                    torque: f.torque_nm.map(thousandths),
                })
                .collect(),
            angle: differences(points.iter().map(|p| Some(p.angle_deg)))
                .into_iter()
                .flatten()
                .collect(),
            torque: differences(torque().map(|t| t.map(|t| t.value))),
            u: differences(torque().map(|t| t.map(|t| t.u))),
        }
    }
}

/// Each figure in steps, less the one before: short to write. `None` is a gap.
fn differences(figures: impl Iterator<Item = Option<f64>>) -> Vec<Option<i64>> {
    let mut last = 0;
    figures
        .map(|x| {
            let steps = (x.filter(|x| x.is_finite())? * STEPS).round() as i64;
            Some(steps - std::mem::replace(&mut last, steps))
        })
        .collect()
}

fn thousandths(x: f64) -> f64 {
    (x * 1e3).round() / 1e3
}
