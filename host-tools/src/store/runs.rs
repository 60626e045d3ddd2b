//! The runs that a controller told of, in the form that a replay gives.

use std::time::SystemTime;

use bolting_monitor::detect::Finding;
use bolting_monitor::procedure::{RunSummary, Snug, Verdict};
use bolting_monitor::wire::{
    Alarm, Evidence, FromController, Hello, Point, SnugAngle, Summary, Thinned,
};

use super::{Said, View};
use crate::replay::{CurvePoint, Outcome, told};

/// A run that a controller told of.
#[derive(Clone, Debug)]
pub struct LoggedRun {
    /// Who told of it; only the low byte of the run's number where the log has no such message.
    pub hello: Hello,
    /// The host's time of the first and the last message of it, where the log tells.
    pub heard: Option<[SystemTime; 2]>,
    /// What it told. A run that was not summed up is not assessable, and its final torque not told.
    pub outcome: Outcome,
    /// Whether the controller summed the run up.
    pub summed_up: bool,
    /// Alarms whose evidence the log does not hold, or whose number this version does not know.
    pub bare_alarms: Vec<Alarm>,
    /// Points of the curve that the controller left out while its link was slow or down.
    pub points_left_out: u32,
}

/// The runs that `messages` tell of, in the order in which they began; of each, what was received,
/// summed up or not. Repeats of retained messages count once. What is retained may come late: it goes
/// to the run that it names.
pub fn runs<'a>(messages: impl IntoIterator<Item = &'a FromController>) -> Vec<LoggedRun> {
    let mut told = Told::default();
    messages.into_iter().for_each(|m| told.take(None, m));
    told.runs()
}

impl View {
    /// As [`runs`], with the host's times.
    pub fn runs(&self) -> Vec<LoggedRun> {
        let mut told = Told::default();
        for entry in &self.entries {
            if let Said::Message(message) = &entry.said {
                told.take(Some(entry.at), message);
            }
        }
        told.runs()
    }
}

#[derive(Default)]
struct Told {
    runs: Vec<Partial>,
}

/// What was received of one run.
#[derive(Default)]
struct Partial {
    hello: Hello,
    introduced: bool,
    heard: Option<[SystemTime; 2]>,
    alarms: Vec<Alarm>,
    evidence: Vec<Evidence>,
    curve: Vec<CurvePoint>,
    observable: Option<bool>,
    snug: Option<Snug>,
    summary: Option<RunSummary>,
    /// Points that the controller has left out since it booted.
    left_out_since_boot: u32,
}

impl Told {
    fn take(&mut self, at: Option<SystemTime>, message: &FromController) {
        let run = match message {
            FromController::Hello(hello) => self.introduced(hello),
            FromController::Alarm(Alarm { run, .. })
            | FromController::Evidence(Evidence { run, .. })
            | FromController::SnugAngle(SnugAngle { run, .. })
            | FromController::Summary(Summary { run, .. }) => self.named(*run),
            FromController::Points(_) | FromController::Thinned(_) => self.latest(),
            _ => return,
        };
        run.take(message);
        if let Some(at) = at {
            run.heard = Some([run.heard.map_or(at, |[first, _]| first), at]);
        }
    }

    fn introduced(&mut self, hello: &Hello) -> &mut Partial {
        let same = self.runs.last().is_some_and(|run| {
            let known = (run.hello.boot_id, run.hello.run) == (hello.boot_id, hello.run);
            known || !run.introduced && run.hello.run as u8 == hello.run as u8
        });
        if !same {
            self.runs.push(Partial::default());
        }
        let run = self.latest();
        (run.hello, run.introduced) = (hello.clone(), true);
        run
    }

    /// The last run since the last boot whose number ends in this byte.
    fn named(&mut self, low_byte: u8) -> &mut Partial {
        let boot_id = self.runs.last().map(|run| run.hello.boot_id);
        let of_that_name =
            |run: &Partial| Some(run.hello.boot_id) == boot_id && run.hello.run as u8 == low_byte;
        match self.runs.iter().rposition(of_that_name) {
            Some(index) => &mut self.runs[index],
            None => {
                let mut run = Partial::default();
                run.hello.run = low_byte.into();
                run.hello.boot_id = boot_id.unwrap_or_default();
                // Nobody has said yet that the current run is over.
                let index = self.runs.len().saturating_sub(1);
                self.runs.insert(index, run);
                &mut self.runs[index]
            }
        }
    }

    fn latest(&mut self) -> &mut Partial {
        if self.runs.is_empty() {
            self.runs.push(Partial::default());
        }
        let last = self.runs.len() - 1;
        &mut self.runs[last]
    }

    fn runs(self) -> Vec<LoggedRun> {
        let mut before = (0, 0);
        let mut runs = Vec::new();
        for run in self.runs {
            let (boot_id, total) = (run.hello.boot_id, run.left_out_since_boot);
            let (last_boot, last_total) = before;
            let earlier = if boot_id == last_boot { last_total } else { 0 };
            before = (boot_id, total.max(earlier));
            if !run.is_empty() {
                runs.push(run.run(total.saturating_sub(earlier)));
            }
        }
        runs
    }
}

impl Partial {
    fn take(&mut self, message: &FromController) {
        match message {
            FromController::Points(points) => points.points.iter().for_each(|p| self.point(p)),
            FromController::Thinned(Thinned { points }) => {
                self.left_out_since_boot = self.left_out_since_boot.max(*points);
            }
            FromController::Alarm(alarm) if !self.alarms.contains(alarm) => {
                self.alarms.push(*alarm);
            }
            FromController::Evidence(evidence) if !self.evidence.contains(evidence) => {
                self.evidence.push(*evidence);
            }
            FromController::SnugAngle(snug) => {
                self.snug = Some(Snug {
                    angle_rad: snug.angle_rad,
                    angle_u_rad: snug.angle_u_rad,
                    torque_nm: snug.torque_nm,
                });
            }
            FromController::Summary(summary) if self.summary.is_none() => {
                self.summary = summary.summary();
            }
            _ => {}
        }
    }

    fn point(&mut self, point: &Point) {
        let observable = point.flags & Point::OBSERVABLE != 0;
        self.observable = Some(observable);
        self.curve.push(CurvePoint {
            time_s: f64::from(point.time_us) * 1e-6,
            angle_rad: point.angle_rad,
            torque_nm: point.torque_nm,
            torque_u_nm: point.torque_u_nm,
            observable,
        });
    }

    /// The controller only said that it is there.
    fn is_empty(&self) -> bool {
        self.alarms.is_empty()
            && self.evidence.is_empty()
            && self.curve.is_empty()
            && self.summary.is_none()
    }

    /// The finding of an alarm. A number is given anew once it is acknowledged: so the time tells
    /// which evidence is meant, if the log has both.
    fn finding(&self, alarm: &Alarm) -> Option<Finding> {
        let mut of_that_number = (self.evidence.iter())
            .filter_map(|e| e.join(alarm))
            .collect::<Vec<_>>();
        let at_us = self.hello.run_start_us.saturating_add(alarm.time_us.into());
        of_that_number.sort_by_key(|finding| finding.time_us.abs_diff(at_us));
        of_that_number.first().copied()
    }

    fn run(self, points_left_out: u32) -> LoggedRun {
        let (mut findings, mut bare_alarms) = (Vec::<Finding>::new(), Vec::new());
        for alarm in &self.alarms {
            match self.finding(alarm) {
                Some(finding) => findings.push(finding),
                None => bare_alarms.push(*alarm),
            }
        }
        let summed_up = self.summary.is_some();
        let last = self.curve.last();
        let summary = self.summary.unwrap_or_else(|| RunSummary {
            verdict: Verdict::NotAssessable,
            reasons: Default::default(),
            final_torque_nm: 0.0,
            final_torque_u_nm: f32::INFINITY,
            final_angle_rad: last.map_or(0.0, |p| p.angle_rad),
            final_angle_u_rad: f32::INFINITY,
            snug: self.snug,
            samples: 0,
            gaps: 0,
            unusable_samples: 0,
        });
        LoggedRun {
            heard: self.heard,
            outcome: Outcome {
                observable: told(&summary, self.observable).filter(|_| summed_up),
                summary,
                findings,
                start_us: self.hello.run_start_us,
                curve: self.curve,
            },
            summed_up,
            bare_alarms,
            points_left_out,
            hello: self.hello,
        }
    }
}
