//! What is known of the run so far, and what only its end tells.

use crate::curve::knee;
use crate::detect::{Detection, Finding, Swing, under_torque};
use crate::math::sqrt;
use crate::procedure::{Figure, Mode, RunSummary, Seen, Snug, judge};

use super::Monitor;

/// Steps of the line that gives the final torque (1.5°), beside the unfinished one.
const FINAL_STEPS: usize = 3;
/// Bolt angle within which friction rises before the bolt stands, rad (1°; common practice, no source).
const RISES_RAD: f32 = 0.0175;
/// Standard uncertainty of the direction of the bolt axis, rad (1°; common practice, no source: a socket with
/// 0.3 mm of clearance on a head 15 mm deep).
const TILT_U_RAD: f32 = 0.0175;
/// Travel of the tool with unknown torque after which the last torque no longer stands (5°).
const UNSEEN_RAD: f32 = 0.087;

impl<const N: usize, const B: usize> Monitor<N, B> {
    /// What only the end of the run tells: that it ended at a step that stops it, or below its torque
    /// window, else what there is to say of its last step. That it ended below is not said where a finding
    /// that stops says why, or the torque cannot be told. Ask once, when the run has ended.
    pub fn finish(&self) -> Option<Finding> {
        let (due, _) = self.still_due();
        let stop = due.filter(|due| due.kind.stops());
        let detection = stop.or_else(|| self.falls_short()).or(due)?;
        Some(self.finding(&detection, self.last.time_us))
    }

    fn falls_short(&self) -> Option<Detection> {
        let told = self.recent.window.newest().is_some_and(|s| s.observable)
            && self.joiner.end_unseen_rad() < UNSEEN_RAD
            && !self.landmarks.stopped;
        let (torque_nm, u) = self.final_torque();
        let end = Figure {
            value: torque_nm.filter(|_| told)?,
            u,
        };
        under_torque(end, &self.expected)
    }

    /// What is known of the run so far; final when the run has ended. Where samples are gathered, without
    /// those of the last 2 ms.
    pub fn summary(&self) -> RunSummary {
        let (torque_nm, torque_u_nm) = self.final_torque();
        let newest = self.recent.window.newest();
        let snug = self.snug_point();
        let (_, landmarks) = self.still_due();
        let seen = Seen {
            final_torque_nm: torque_nm.map(|t| t * self.tightening),
            final_torque_u_nm: torque_u_nm,
            observable: newest.map_or(self.last.torque_observable, |s| s.observable)
                && self.joiner.end_unseen_rad() < UNSEEN_RAD,
            final_angle_rad: self.signed(self.angle()),
            snug,
            mark_rad: landmarks.mark_rad.map(|mark| self.signed(mark)),
            highest_nm: landmarks.highest_nm,
            yield_nm: landmarks.yield_nm,
            breakaway_nm: landmarks.breakaway_nm,
            free_rad: landmarks.free_rad,
            seat_u_nm: landmarks.seat_u_nm,
            lost_nm: self.detectors.lost_nm(),
            run_out_in_doubt: self.detectors.run_out_in_doubt(),
            stopped: landmarks.stopped,
            adverse: landmarks.adverse,
            sensing_in_doubt: landmarks.sensing_in_doubt,
            joints_disagree: landmarks.joints_disagree,
            yield_in_doubt: self.tightening > 0.0 && self.detectors.yield_in_doubt(),
            missing_part: self.clock.missing_part(),
        };
        let (verdict, reasons) = judge(&self.job, &seen);
        RunSummary {
            verdict,
            reasons,
            final_torque_nm: seen.final_torque_nm.unwrap_or(0.0),
            final_torque_u_nm: torque_u_nm,
            final_angle_rad: self.last.angle_rad,
            final_angle_u_rad: self.last.angle_u_rad,
            snug,
            samples: self.clock.samples,
            gaps: self.clock.gaps,
            unusable_samples: self.clock.unusable,
        }
    }

    /// Torque at the furthest bolt angle and its standard uncertainty, driving direction: the last
    /// stretch of the curve, the unfinished step included, as a line.
    fn final_torque(&self) -> (Option<f32>, f32) {
        let end_rad = self.last.angle_rad * self.tightening;
        let unfinished = self.steps.partial(self.last.time_us, end_rad);
        let unfinished = unfinished.as_ref();
        let line = self.recent.window.line_up_to(FINAL_STEPS, unfinished);
        match (line, unfinished.or(self.recent.window.newest())) {
            (Some(line), Some(step)) => {
                // Grain and jerks move the torque about its line: at one moment it is known no better.
                let wanders = self.recent.local.map_or(0.0, |local| local.residual);
                let (noise, systematic) = (line.at_u(end_rad), step.systematic_u_nm);
                let tilted = self.tilted_u_nm();
                let systematic = sqrt(systematic * systematic + tilted * tilted);
                let u = sqrt(noise * noise + systematic * systematic + wanders * wanders);
                match self.detectors.swing() {
                    Some(swing) => {
                        // It goes on rising after its last whole swing.
                        let above_nm = self.peak_above(swing.high_nm, end_rad);
                        let swing = Swing {
                            high_nm: swing.high_nm + above_nm,
                            ..swing
                        };
                        (
                            Some(swing.low_nm),
                            sqrt(u * u + swing.u_nm() * swing.u_nm()),
                        )
                    }
                    None => {
                        // A line goes on where a bolt that is held no longer rises.
                        let highest_nm = self.landmarks.highest_nm.map(|highest| highest.value);
                        let newest_nm = self.last.torque_nm * self.tightening;
                        let most_nm = highest_nm.map_or(newest_nm, |nm| nm.max(newest_nm));
                        let line_nm = line.at(end_rad).min(most_nm + noise);
                        let above_nm = self.peak_above(line_nm + noise + wanders, end_rad);
                        // With equal right anywhere between the two (JCGM 100, 4.3.7).
                        let u = sqrt(u * u + above_nm * above_nm / 12.0);
                        (Some(line_nm + 0.5 * above_nm), u)
                    }
                }
            }
            (None, Some(step)) => (Some(step.torque_nm), step.torque_u_nm()),
            _ => (None, self.last.torque_u_nm),
        }
    }

    /// What a moment across the axis adds to the torque about it, where that is taken from the arm and the tool
    /// does not sit quite square, N·m.
    fn tilted_u_nm(&self) -> f32 {
        let side = (self.landmarks.side).filter(|_| self.job.mode == Mode::WristStrokes);
        side.map_or(0.0, |side| TILT_U_RAD * side.size_nm())
    }

    /// How far the highest torque lies above the line's end and its scatter, where it was reached with the last of the
    /// bolt angle, N·m: friction rises as the bolt comes to rest (ISO 16047 fixes the speed for that), in
    /// less angle than the line is long.
    fn peak_above(&self, line_nm: f32, end_rad: f32) -> f32 {
        let last = end_rad - self.landmarks.highest_rad <= RISES_RAD;
        let highest = self.landmarks.highest_nm.filter(|_| last);
        highest.map_or(0.0, |highest| (highest.value - line_nm).max(0.0))
    }

    /// The snug point as far as the run tells it; `None` before the snug event and for a bolt
    /// that was stopped before its head seated.
    pub fn snug_point(&self) -> Option<Snug> {
        if self.landmarks.unseated {
            return None;
        }
        let trail = self.trail.curve(&self.recent.window)?;
        let knee = knee(&trail, &self.curve, self.recent.level.mean_nm())?;
        let joins = self.joiner.angle_u_rad();
        Some(Snug {
            angle_rad: knee.angle_rad * self.tightening,
            angle_u_rad: sqrt(knee.angle_u_rad * knee.angle_u_rad + joins * joins),
            torque_nm: knee.torque_nm * self.tightening,
        })
    }
}
