//! The runs that a controller told of, in the form that a replay gives.

use std::time::SystemTime;

use bolting_monitor::detect::Finding;
use bolting_monitor::procedure::{Reason, RunSummary, Snug, Verdict};
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
    /// Whether it did in a form that this version does not know.
    pub summary_unknown: bool,
    /// Evidence whose alarm the log does not hold.
    pub stray_evidence: Vec<Evidence>,
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
            match &entry.said {
                Said::Message(message) => told.take(Some(entry.at), message),
                Said::Connected(_) | Said::Lost(_) => told.link_changed(),
                Said::NotUnderstood { .. } => {}
            }
        }
        told.runs()
    }
}

#[derive(Default)]
struct Told {
    runs: Vec<Partial>,
    /// Since the link came up or the boot changed, somebody has said who is speaking.
    known: bool,
}

/// What was received of one run.
#[derive(Default)]
struct Partial {
    hello: Hello,
    introduced: bool,
    /// Whether `hello.boot_id` is known, if not by a message of its own.
    boot_known: bool,
    heard: Option<[SystemTime; 2]>,
    alarms: Vec<Alarm>,
    evidence: Vec<Evidence>,
    curve: Vec<CurvePoint>,
    observable: Option<bool>,
    snug: Option<Snug>,
    summary: Option<RunSummary>,
    /// A summary came in a form that this version does not know.
    summary_unknown: bool,
    /// Points that the controller has left out since it booted.
    left_out_since_boot: u32,
}

impl Told {
    /// The link came up or went down: whoever speaks next may have booted anew.
    fn link_changed(&mut self) {
        self.known = false;
    }

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

    /// Alarms go before the message that says who is speaking: what came without one since the link
    /// came up is of this boot, and goes to the run that it named.
    fn introduced(&mut self, hello: &Hello) -> &mut Partial {
        self.known = true;
        let (kept, waiting): (Vec<_>, Vec<_>) = std::mem::take(&mut self.runs)
            .into_iter()
            .partition(|run| run.boot_known);
        self.runs = kept;
        let of_this =
            |run: &Partial| (run.hello.boot_id, run.hello.run) == (hello.boot_id, hello.run);
        let mut current = match self.runs.iter().rposition(of_this) {
            Some(index) => self.runs.remove(index),
            None => Partial::default(),
        };
        for mut run in waiting {
            let number = run.hello.run as u8;
            let same = |other: &Partial| {
                other.hello.boot_id == hello.boot_id && other.hello.run as u8 == number
            };
            if number == hello.run as u8 {
                current.join(run);
            } else if let Some(index) = self.runs.iter().rposition(same) {
                self.runs[index].join(run);
            } else {
                (run.hello.boot_id, run.boot_known) = (hello.boot_id, true);
                self.runs.push(run);
            }
        }
        (current.hello, current.introduced, current.boot_known) = (hello.clone(), true, true);
        self.runs.push(current);
        self.latest()
    }

    /// The last run since the last boot whose number ends in this byte.
    fn named(&mut self, low_byte: u8) -> &mut Partial {
        let boot_id = self.runs.last().map(|run| run.hello.boot_id);
        let known = self.known;
        let of_that_name = |run: &Partial| {
            let boot = if known {
                run.boot_known && Some(run.hello.boot_id) == boot_id
            } else {
                !run.boot_known
            };
            boot && run.hello.run as u8 == low_byte
        };
        match self.runs.iter().rposition(of_that_name) {
            Some(index) => &mut self.runs[index],
            None => {
                let mut run = Partial::default();
                run.hello.run = low_byte.into();
                run.boot_known = known;
                if known {
                    run.hello.boot_id = boot_id.unwrap_or_default();
                }
                // Nobody has said yet that the current run is over.
                let last = self.runs.len().saturating_sub(1);
                let index = if known { last } else { self.runs.len() };
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
    /// Takes over what was received of the same run elsewhere.
    fn join(&mut self, other: Self) {
        for alarm in other.alarms {
            if !self.alarms.contains(&alarm) {
                self.alarms.push(alarm);
            }
        }
        for evidence in other.evidence {
            if !self.evidence.contains(&evidence) {
                self.evidence.push(evidence);
            }
        }
        self.curve.extend(other.curve);
        self.observable = other.observable.or(self.observable);
        self.snug = self.snug.or(other.snug);
        self.summary = self.summary.take().or(other.summary);
        self.summary_unknown |= other.summary_unknown;
        self.left_out_since_boot = self.left_out_since_boot.max(other.left_out_since_boot);
        self.heard = match (self.heard, other.heard) {
            (Some([a, b]), Some([c, d])) => Some([a.min(c), b.max(d)]),
            (one, other) => one.or(other),
        };
    }

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
                self.summary_unknown |= self.summary.is_none();
            }
            _ => {}
        }
    }

    fn point(&mut self, point: &Point) {
        let observable = point.flags & Point::OBSERVABLE != 0;
        if point.flags & Point::TURNING != 0 {
            self.observable = Some(observable);
        }
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
            && !self.summary_unknown
    }

    /// The finding of an alarm. A number is given anew once it is acknowledged: so the time, too, must be
    /// that of the evidence, where the start of the run is known.
    fn finding(&self, alarm: &Alarm) -> Option<Finding> {
        let at_us = |finding: &Finding| finding.time_us.saturating_sub(self.hello.run_start_us);
        let same_time = |finding: &Finding| {
            !self.introduced || u32::try_from(at_us(finding)).unwrap_or(u32::MAX) == alarm.time_us
        };
        (self.evidence.iter())
            .filter_map(|e| e.join(alarm))
            .find(same_time)
    }

    /// Evidence of which no alarm was received.
    fn strays(&self) -> Vec<Evidence> {
        let of_none = |e: &&Evidence| !self.alarms.iter().any(|a| (a.id, a.run) == (e.id, e.run));
        self.evidence.iter().filter(of_none).copied().collect()
    }

    fn run(self, points_left_out: u32) -> LoggedRun {
        let (mut findings, mut bare_alarms) = (Vec::<Finding>::new(), Vec::new());
        for alarm in &self.alarms {
            match self.finding(alarm) {
                Some(finding) => findings.push(finding),
                None => bare_alarms.push(*alarm),
            }
        }
        let stray_evidence = self.strays();
        let summed_up = self.summary.is_some();
        let no_curve = self.curve.is_empty();
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
                observable: told(&summary, self.observable)
                    // Where no curve was received, the summary alone tells.
                    .or((no_curve && turned(&summary)).then_some(true))
                    .filter(|_| summed_up),
                summary,
                findings,
                start_us: self.hello.run_start_us,
                curve: self.curve,
            },
            summed_up,
            summary_unknown: self.summary_unknown && !summed_up,
            bare_alarms,
            stray_evidence,
            points_left_out,
            hello: self.hello,
        }
    }
}

/// Whether a summary says that the bolt turned.
fn turned(summary: &RunSummary) -> bool {
    !(summary.reasons.iter())
        .any(|r| matches!(r, Reason::NeverTurned | Reason::TorqueNotObservable))
}
