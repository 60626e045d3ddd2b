//! The runs that a controller told of, in the form that a replay gives.

use bolting_monitor::detect::Finding;
use bolting_monitor::wire::{Alarm, FromController, Hello, Point, Summary};

use crate::replay::{CurvePoint, Outcome, told};

/// A run that a controller told of.
#[derive(Clone, Debug)]
pub struct LoggedRun {
    /// Who told of it.
    pub hello: Hello,
    /// What it told.
    pub outcome: Outcome,
}

/// The runs that were summed up in `messages`, in order; of each, what was received. Repeats of
/// retained messages count once.
pub fn runs<'a>(messages: impl IntoIterator<Item = &'a FromController>) -> Vec<LoggedRun> {
    let mut runs = Vec::new();
    let mut current: Option<Partial> = None;
    for message in messages {
        match (message, &mut current) {
            (FromController::Hello(hello), Some(run)) if run.is_of(hello) => {
                run.hello = hello.clone();
            }
            (FromController::Hello(hello), _) => current = Some(Partial::new(hello)),
            (message, Some(run)) => runs.extend(run.take(message)),
            (_, None) => {}
        }
    }
    runs
}

/// What was received so far of one run.
struct Partial {
    hello: Hello,
    alarms: Vec<Alarm>,
    findings: Vec<Finding>,
    curve: Vec<CurvePoint>,
    observable: Option<bool>,
    summed_up: bool,
}

impl Partial {
    fn new(hello: &Hello) -> Self {
        Self {
            hello: hello.clone(),
            alarms: Vec::new(),
            findings: Vec::new(),
            curve: Vec::new(),
            observable: None,
            summed_up: false,
        }
    }

    fn is_of(&self, hello: &Hello) -> bool {
        (self.hello.boot_id, self.hello.run) == (hello.boot_id, hello.run)
    }

    fn take(&mut self, message: &FromController) -> Option<LoggedRun> {
        let run = self.hello.run as u8;
        match message {
            FromController::Points(points) => points.points.iter().for_each(|p| self.point(p)),
            FromController::Alarm(alarm) if alarm.run == run => self.alarms.push(*alarm),
            FromController::Evidence(evidence) => {
                let finding = self.alarms.iter().find_map(|alarm| evidence.join(alarm));
                self.alarms.retain(|alarm| alarm.id != evidence.id);
                self.findings
                    .extend(finding.filter(|f| !self.findings.contains(f)));
            }
            FromController::Summary(summary) if summary.run == run => return self.sum_up(summary),
            _ => {}
        }
        None
    }

    fn point(&mut self, point: &Point) {
        self.observable = Some(point.flags & Point::OBSERVABLE != 0);
        self.curve.push(CurvePoint {
            time_s: f64::from(point.time_us) * 1e-6,
            angle_rad: point.angle_rad,
            torque_nm: point.torque_nm,
            torque_u_nm: point.torque_u_nm,
        });
    }

    fn sum_up(&mut self, summary: &Summary) -> Option<LoggedRun> {
        if std::mem::replace(&mut self.summed_up, true) {
            return None;
        }
        let summary = summary.summary()?;
        Some(LoggedRun {
            hello: self.hello.clone(),
            outcome: Outcome {
                observable: told(&summary, self.observable),
                summary,
                findings: std::mem::take(&mut self.findings),
                start_us: self.hello.run_start_us,
                curve: std::mem::take(&mut self.curve),
            },
        })
    }
}
