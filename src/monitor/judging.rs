//! A closed step: into the curve with the sample that closes it, then before its judges, one group with
//! each sample that follows.

use crate::curve::AngleStep;
use crate::detect::{Detection, Finding, FindingKind, LOCAL_STEPS, SnugChange, StepView};

use super::Monitor;

/// What the judges of a step said, beside detections.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Judged {
    /// Mean torque of the step with its standard uncertainty, N·m, where observable.
    pub step_nm: Option<(f32, f32)>,
    pub snug: Option<SnugChange>,
}

impl<const N: usize, const B: usize> Monitor<N, B> {
    /// Takes a closed step into the curve. Whoever has not seen the one before sees it now, for the
    /// window moves on: no step is lost, however fast they come.
    pub(super) fn keep(&mut self, step: AngleStep, judged: &mut Judged) {
        while self.unasked.is_some() {
            self.judge_next(judged);
        }
        self.window.push(step);
        self.curve.add(&step.point());
        if !self.snug.seen() {
            self.level.add(&self.window);
        }
        self.trail.follow(&self.window);
        if let Some(z) = step.advance_m {
            self.advance.add(step.angle_rad, z, step.width_rad);
        }
        self.local = self.window.line(LOCAL_STEPS);
        self.advance_ratio = self.advance.ratio(self.expected.pitch_m);
    }

    /// Shows the newest step to the next of those who judge it, if any is left.
    pub(super) fn judge_next(&mut self, judged: &mut Judged) {
        let Some(group) = self.unasked else {
            return;
        };
        self.unasked = group.next();
        let Some(step) = self.window.newest() else {
            return;
        };
        let last = self.unasked.is_none();
        if last {
            judged.step_nm = step
                .observable
                .then(|| (step.torque_nm, step.torque_u_nm()));
        }
        if self.seat_is_missing() {
            return;
        }
        let view = StepView {
            step,
            window: &self.window,
            local: self.local.as_ref(),
            expected: &self.expected,
            level: &self.level,
            snug: self.snug.seen(),
            advance_ratio: self.advance_ratio,
            angle_u_rad: self.last.angle_u_rad,
        };
        self.detectors.on_step(group, &view);
        if !last || self.tightening < 0.0 {
            return;
        }
        // Last, so that all others have judged the step by what was known before it.
        judged.snug = self.snug.on_step(&view);
        match judged.snug {
            Some(SnugChange::Seen) => {
                self.last.snug_seen = true;
                self.trail.begin(&self.window);
            }
            Some(SnugChange::Withdrawn) => self.trail.withdraw(),
            None => {}
        }
    }

    /// What stops the run at the last step, which no sample has followed yet.
    pub(super) fn due_stop(&self) -> Option<Detection> {
        let step = self.window.newest()?;
        let mut group = self.unasked;
        if group.is_none() || self.seat_is_missing() {
            return None;
        }
        let mut detectors = self.detectors.clone();
        let view = StepView {
            step,
            window: &self.window,
            local: self.local.as_ref(),
            expected: &self.expected,
            level: &self.level,
            snug: self.snug.seen(),
            advance_ratio: self.advance_ratio,
            angle_u_rad: self.last.angle_u_rad,
        };
        while let Some(asked) = group {
            detectors.on_step(asked, &view);
            group = asked.next();
        }
        detectors.next().filter(|d| d.kind.stops())
    }

    /// Without a seat there is no snug point, and the torque falls and rises as it pleases.
    fn seat_is_missing(&self) -> bool {
        self.landmarks.unseated && self.tightening > 0.0
    }

    pub(super) fn finding(&self, detection: &Detection, time_us: u64) -> Finding {
        let (torque_nm, torque_u_nm) = match (detection.kind, self.window.newest()) {
            (
                FindingKind::CrossThread
                | FindingKind::EarlySnug
                | FindingKind::Galling
                | FindingKind::Strip,
                Some(step),
            ) => (
                self.window.mean_torque_nm(3) * self.tightening,
                step.torque_u_nm(),
            ),
            _ => (self.last.torque_nm, self.last.torque_u_nm),
        };
        Finding {
            kind: detection.kind,
            time_us,
            angle_rad: self.last.angle_rad,
            torque_nm,
            torque_u_nm,
            slope_nm_per_rad: self.local.map_or(0.0, |l| l.slope),
            slope_u_nm_per_rad: self.local.map_or(0.0, |l| l.slope_u),
            advance_ratio: self.advance_ratio,
            quantity: detection.quantity,
            value: detection.value,
            limit: detection.limit,
            likely: detection.likely,
            runner_up: detection.runner_up,
        }
    }
}
