//! What was received of one run, and what it tells.

use std::time::SystemTime;

use bolting_monitor::detect::Finding;
use bolting_monitor::procedure::{Reason, RunSummary, Snug, Verdict};
use bolting_monitor::wire::{
    Alarm, Evidence, FromController, Hello, MAX_WIRE, Payload, Point, Thinned, encode,
};

use super::LoggedRun;
use crate::replay::{CurvePoint, Outcome, told};

/// Of which boot of the controller a run is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Boot {
    /// Nobody has said so yet.
    #[default]
    Waiting,
    /// Of that of its `hello`.
    Known,
    /// Nobody said so before the link was lost.
    Unknown,
}

/// What was received of one run.
#[derive(Default)]
pub struct Partial {
    /// What is not told of it is empty.
    pub hello: Hello,
    introduced: bool,
    pub boot: Boot,
    /// Whether the low byte of its number was told.
    pub numbered: bool,
    other_job: Option<(String, u32)>,
    pub heard: Option<[SystemTime; 2]>,
    alarms: Vec<Alarm>,
    evidence: Vec<Evidence>,
    curve: Vec<CurvePoint>,
    observable: Option<bool>,
    snug: Option<Snug>,
    summary: Option<RunSummary>,
    /// A summary came in a form that this version does not know.
    summary_unknown: bool,
    /// Points that the controller has left out since it booted.
    pub left_out_since_boot: u32,
}

impl Partial {
    /// Somebody says who tells of it. The first word on its job stands: the run was judged by that.
    pub fn introduce(&mut self, hello: &Hello) {
        let had = std::mem::replace(&mut self.hello, hello.clone());
        // Before the first run there is a job, but no run that was begun with it.
        if !std::mem::replace(&mut self.introduced, true) || hello.run == 0 {
            return;
        }
        let told = (hello.job.to_string(), hello.job_crc);
        if told != (had.job.to_string(), had.job_crc) && !self.is_summed_up() {
            self.other_job = Some(told);
        }
        let now = &mut self.hello;
        (now.job, now.job_crc, now.joints, now.turn) = (had.job, had.job_crc, had.joints, had.turn);
    }

    fn is_summed_up(&self) -> bool {
        self.summary.is_some() || self.summary_unknown
    }

    /// Whether this run holds all that was received of `other`, bit for bit. A curve is sent once only.
    pub fn holds(&self, other: &Self) -> bool {
        let text = |x: &dyn std::fmt::Debug| format!("{x:?}");
        other.numbered
            && self.numbered
            && self.hello.run as u8 == other.hello.run as u8
            && other.curve.is_empty()
            && (other.alarms.iter()).all(|alarm| is_in(alarm, &self.alarms))
            && (other.evidence.iter()).all(|evidence| is_in(evidence, &self.evidence))
            && (other.snug.is_none() || text(&self.snug) == text(&other.snug))
            && (!other.is_summed_up() || text(&self.summary) == text(&other.summary))
    }

    /// Takes over what was received of the same run elsewhere.
    pub fn join(&mut self, other: Self) {
        for alarm in other.alarms {
            if !is_in(&alarm, &self.alarms) {
                self.alarms.push(alarm);
            }
        }
        for evidence in other.evidence {
            if !is_in(&evidence, &self.evidence) {
                self.evidence.push(evidence);
            }
        }
        self.curve.extend(other.curve);
        self.observable = other.observable.or(self.observable);
        self.snug = self.snug.or(other.snug);
        self.summary = self.summary.take().or(other.summary);
        self.summary_unknown |= other.summary_unknown;
        self.left_out_since_boot = self.left_out_since_boot.max(other.left_out_since_boot);
        self.heard = both(self.heard, other.heard);
    }

    pub fn take(&mut self, message: &FromController) {
        match message {
            FromController::Points(points) => points.points.iter().for_each(|p| self.point(p)),
            FromController::Thinned(Thinned { points }) => {
                self.left_out_since_boot = self.left_out_since_boot.max(*points);
            }
            FromController::Alarm(alarm) if !is_in(alarm, &self.alarms) => {
                self.alarms.push(*alarm);
            }
            FromController::Evidence(evidence) if !is_in(evidence, &self.evidence) => {
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
    pub fn is_empty(&self) -> bool {
        self.alarms.is_empty()
            && self.evidence.is_empty()
            && self.curve.is_empty()
            && self.snug.is_none()
            && !self.is_summed_up()
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

    /// Time in its run of the first alarm whose evidence is there, µs.
    fn first_us(&self) -> Option<u64> {
        let told = self.alarms.iter().find(|a| self.finding(a).is_some())?;
        Some(told.time_us.into())
    }

    /// Evidence of which no alarm was received.
    fn strays(&self) -> Vec<Evidence> {
        let of_none = |e: &&Evidence| !self.alarms.iter().any(|a| (a.id, a.run) == (e.id, e.run));
        self.evidence.iter().filter(of_none).copied().collect()
    }

    pub fn run(self, points_left_out: u32) -> LoggedRun {
        let (mut findings, mut bare_alarms) = (Vec::<Finding>::new(), Vec::new());
        for alarm in &self.alarms {
            match self.finding(alarm) {
                Some(finding) => findings.push(finding),
                None => bare_alarms.push(*alarm),
            }
        }
        // An alarm counts from the start of its run, its evidence from that of the clock.
        let start_us = match (self.introduced, findings.first(), self.first_us()) {
            (false, Some(finding), Some(time_us)) => finding.time_us.saturating_sub(time_us),
            _ => self.hello.run_start_us,
        };
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
                start_us,
                curve: self.curve,
            },
            summed_up,
            summary_unknown: self.summary_unknown && !summed_up,
            bare_alarms,
            stray_evidence,
            points_left_out,
            introduced: self.introduced,
            boot_known: self.boot == Boot::Known,
            number_known: self.numbered,
            other_job: self.other_job,
            hello: self.hello,
        }
    }
}

/// Whether a summary says that the bolt turned.
fn turned(summary: &RunSummary) -> bool {
    !(summary.reasons.iter())
        .any(|r| matches!(r, Reason::NeverTurned | Reason::TorqueNotObservable))
}

/// From the earlier to the later.
pub fn both(
    one: Option<[SystemTime; 2]>,
    other: Option<[SystemTime; 2]>,
) -> Option<[SystemTime; 2]> {
    match (one, other) {
        (Some([a, b]), Some([c, d])) => Some([a.min(c), b.max(d)]),
        (one, other) => one.or(other),
    }
}

/// Whether a message is among others, bit for bit: a figure that is none equals no other, but its
/// repeat is one all the same.
fn is_in<T: Payload>(message: &T, among: &[T]) -> bool {
    let bytes = |message: &T| {
        let mut frame = [0; MAX_WIRE];
        encode(0, message, &mut frame).map(|length| frame[..length].to_vec())
    };
    let this = bytes(message);
    among.iter().any(|other| bytes(other) == this)
}
