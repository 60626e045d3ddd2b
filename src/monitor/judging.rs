//! A closed step: into the curve with the sample that closes it, then before its judges, one group with
//! each sample that follows.

use crate::curve::AngleStep;
use crate::detect::{Detection, Finding, FindingKind, SnugChange};

use super::Monitor;
use super::landmarks::Landmarks;

/// What the judges of a step said, beside detections.
#[derive(Clone, Copy, Debug)]
pub(super) struct Judged {
    /// Mean torque of the step with its standard uncertainty, N·m, where observable.
    pub step_nm: Option<(f32, f32)>,
    pub snug: Option<SnugChange>,
}

impl Judged {
    pub const NOTHING: Self = Self {
        step_nm: None,
        snug: None,
    };
}

impl<const N: usize, const B: usize> Monitor<N, B> {
    /// Takes a closed step into the curve. Whoever has not seen the one before sees it now, for the
    /// window moves on: no step is lost, however fast they come.
    pub(super) fn keep(&mut self, step: AngleStep, judged: &mut Judged) {
        while self.unasked.is_some() {
            self.judge_next(judged);
        }
        self.recent
            .add(&step, self.snug.seen(), self.expected.pitch_m);
        self.curve.add(&step.point());
        self.trail.follow(&self.recent.window);
    }

    /// Shows the newest step to the next of those who judge it, if any is left.
    pub(super) fn judge_next(&mut self, judged: &mut Judged) {
        let Some(group) = self.unasked else {
            return;
        };
        self.unasked = group.next();
        let seat_is_missing = self.seat_is_missing();
        let (snug, angle_u_rad) = (self.snug.seen(), self.joiner.angle_u_rad());
        let Some(view) = self.recent.view(&self.expected, snug, angle_u_rad) else {
            return;
        };
        let (step, last) = (view.step, self.unasked.is_none());
        if last && step.observable {
            judged.step_nm = Some((step.torque_nm, step.torque_u_nm()));
        }
        if seat_is_missing {
            return;
        }
        self.detectors.on_step(group, &view);
        if !last || self.tightening < 0.0 {
            return;
        }
        // Last, so that all others have judged the step by what was known before it.
        let step_systematic_nm = step.systematic_u_nm;
        judged.snug = self.snug.on_step(&view);
        match judged.snug {
            Some(SnugChange::Seen) => {
                self.landmarks.seat_u_nm = step_systematic_nm;
                self.trail.begin(&self.recent.window);
            }
            Some(SnugChange::Withdrawn) => {
                self.trail.withdraw();
                self.recent.level.settle(&self.recent.window);
            }
            None => {}
        }
    }

    /// What the last step, which not all have looked at yet, leaves to be said, a stop first; and the
    /// landmarks with all of it.
    pub(super) fn still_due(&self) -> (Option<Detection>, Landmarks) {
        let mut landmarks = self.landmarks;
        let mut detectors = self.detectors.clone();
        let mut group = self.unasked.filter(|_| !self.seat_is_missing());
        let (snug, angle_u_rad) = (self.snug.seen(), self.last.angle_u_rad);
        if let Some(view) = self.recent.view(&self.expected, snug, angle_u_rad) {
            while let Some(asked) = group {
                detectors.on_step(asked, &view);
                group = asked.next();
            }
        }
        let first = detectors.next();
        let mut due = first;
        while let Some(detection) = due {
            let finding = self.finding(&detection, self.last.time_us);
            landmarks.note(&finding, self.angle(), detectors.yield_onset_nm());
            due = detectors.next();
        }
        (first, landmarks)
    }

    /// Without a seat there is no snug point, and the torque falls and rises as it pleases.
    fn seat_is_missing(&self) -> bool {
        self.landmarks.unseated && self.tightening > 0.0
    }

    pub(super) fn finding(&self, detection: &Detection, time_us: u64) -> Finding {
        let (torque_nm, torque_u_nm) = match (detection.kind, self.recent.window.newest()) {
            (
                FindingKind::CrossThread
                | FindingKind::EarlySnug
                | FindingKind::Galling
                | FindingKind::Strip,
                Some(step),
            ) => (
                self.recent.window.mean_torque_nm(3) * self.tightening,
                step.torque_u_nm(),
            ),
            _ if self.last.torque_observable => (self.last.torque_nm, self.last.torque_u_nm),
            _ => (f32::NAN, self.last.torque_u_nm),
        };
        Finding {
            kind: detection.kind,
            time_us,
            angle_rad: self.last.angle_rad,
            torque_nm,
            torque_u_nm,
            slope_nm_per_rad: self.recent.local.map_or(0.0, |l| l.slope),
            slope_u_nm_per_rad: self.recent.local.map_or(0.0, |l| l.slope_u),
            advance_ratio: self.recent.advance_ratio,
            quantity: detection.quantity,
            value: detection.value,
            limit: detection.limit,
            place: detection.place,
            likely: detection.likely,
            runner_up: detection.runner_up,
        }
    }
}
