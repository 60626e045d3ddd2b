//! Angle steps: the torque averaged over angle, so that speed and stops drop out.

use super::line::Point;
use crate::math::sqrt;
use crate::turn::Motion;
use crate::wrench::AxialTorque;

/// Usual width of a step (0.5°).
pub const STEP_RAD: f32 = 0.008_726_646;

/// Time without turning after which a bolt has stood, µs: a hand that only hesitates is faster.
const STOOD_US: u64 = 100_000;

/// Mean torque over one short stretch of bolt angle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AngleStep {
    /// Time of its last sample, µs.
    pub time_us: u64,
    /// Mean bolt angle, rad, driving direction positive.
    pub angle_rad: f32,
    /// Bolt angle at its end, rad.
    pub end_rad: f32,
    /// Width, rad.
    pub width_rad: f32,
    /// Mean torque, N·m, driving direction positive.
    pub torque_nm: f32,
    /// White part of the standard uncertainty of that mean, N·m.
    pub noise_nm: f32,
    /// The part that does not average out, N·m.
    pub systematic_u_nm: f32,
    /// Mean position of the tool along the bolt axis, m; `None` without an arm.
    pub advance_m: Option<f32>,
    /// Bolt angle since it last stood or strokes were joined, rad, at its end.
    pub since_stop_rad: f32,
    /// Whether the torque was observable in all of it.
    pub observable: bool,
}

impl AngleStep {
    pub(super) const EMPTY: Self = Self {
        time_us: 0,
        angle_rad: 0.0,
        end_rad: 0.0,
        width_rad: 0.0,
        torque_nm: 0.0,
        noise_nm: 0.0,
        systematic_u_nm: 0.0,
        advance_m: None,
        since_stop_rad: 0.0,
        observable: false,
    };

    /// Its place on the curve, weighted by the angle it covers.
    pub const fn point(&self) -> Point {
        Point {
            x: self.angle_rad,
            y: self.torque_nm,
            weight: self.width_rad,
        }
    }

    /// Combined standard uncertainty of the mean torque, N·m.
    pub fn torque_u_nm(&self) -> f32 {
        sqrt(self.noise_nm * self.noise_nm + self.systematic_u_nm * self.systematic_u_nm)
    }
}

/// Gathers samples into angle steps, each sample weighted by the angle it covers.
#[derive(Clone, Copy, Debug, Default)]
pub struct StepBuilder {
    width_rad: f32,
    /// What the last sample added, rad.
    last_rad: f32,
    angle: f32,
    torque: f32,
    noise_square: f32,
    systematic: f32,
    advance: f32,
    advance_width_rad: f32,
    unobservable: bool,
    since_stop_rad: f32,
    turned_us: Option<u64>,
}

impl StepBuilder {
    /// Adds one sample; returns the step when it is full. A sample in which the bolt did not turn
    /// adds nothing. One that joins a stroke closes no step: it has cost enough already.
    pub fn add(
        &mut self,
        time_us: u64,
        motion: &Motion,
        torque: &AxialTorque,
        advance_m: Option<f32>,
    ) -> Option<AngleStep> {
        if motion.joined {
            self.since_stop_rad = 0.0;
        }
        let w = motion.progress_rad;
        if !(w > 0.0) {
            return None;
        }
        let turned_us = self.turned_us.replace(time_us).unwrap_or(time_us);
        if time_us.saturating_sub(turned_us) > STOOD_US {
            self.since_stop_rad = 0.0;
        }
        self.since_stop_rad += w;
        self.width_rad += w;
        self.last_rad = w;
        // The sample stands at the end of its stretch: half a stretch back is its middle.
        self.angle += w * (motion.bolt_rad - 0.5 * w);
        self.torque += w * motion.stretch_torque_nm.unwrap_or(torque.value_nm);
        self.noise_square += w * w * torque.noise_nm * torque.noise_nm;
        self.systematic += w * torque.systematic_u_nm;
        self.unobservable |= !torque.observable;
        if let Some(z) = advance_m {
            self.advance += w * z;
            self.advance_width_rad += w;
        }
        if self.width_rad < STEP_RAD || motion.joined {
            return None;
        }
        let step = self.partial(time_us, motion.bolt_rad);
        *self = Self {
            since_stop_rad: self.since_stop_rad,
            turned_us: self.turned_us,
            last_rad: w,
            ..Self::default()
        };
        step
    }

    /// Whether the next sample may well close a step: one that turns the bolt as far as the last did, and
    /// half as far again.
    pub(crate) fn is_nearly_full(&self) -> bool {
        self.width_rad + 1.5 * self.last_rad >= STEP_RAD
    }

    /// The step as far as it has come, ending at `end_rad`; `None` while it is empty.
    pub fn partial(&self, time_us: u64, end_rad: f32) -> Option<AngleStep> {
        if !(self.width_rad > 0.0) {
            return None;
        }
        let per = 1.0 / self.width_rad;
        Some(AngleStep {
            time_us,
            angle_rad: self.angle * per,
            end_rad,
            width_rad: self.width_rad,
            torque_nm: self.torque * per,
            noise_nm: sqrt(self.noise_square) * per,
            systematic_u_nm: self.systematic * per,
            advance_m: (self.advance_width_rad > 0.0)
                .then(|| self.advance / self.advance_width_rad),
            since_stop_rad: self.since_stop_rad,
            observable: !self.unobservable,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn torque(value_nm: f32) -> AxialTorque {
        AxialTorque {
            value_nm,
            noise_nm: 0.1,
            systematic_u_nm: 0.2,
            observable: true,
            residual_ratio: 0.0,
        }
    }

    #[test]
    fn a_long_stop_within_a_step_does_not_weigh() {
        let mut b = StepBuilder::default();
        let mut bolt_rad = 0.0;
        let mut out = None;
        for i in 0..10 {
            bolt_rad += 0.001;
            let turn = Motion {
                bolt_rad,
                progress_rad: 0.001,
                ..Motion::default()
            };
            out = out.or(b.add(i, &turn, &torque(5.0), None));
            let stop = Motion {
                bolt_rad,
                ..Motion::default()
            };
            for _ in 0..1000 {
                assert_eq!(b.add(i, &stop, &torque(0.0), None), None);
            }
        }
        let step = out.unwrap_or_default();
        assert!((step.torque_nm - 5.0).abs() < 1e-5);
        // Nine samples of equal weight: noise 0.1/√9.
        assert!((step.noise_nm - 0.1 / 3.0).abs() < 1e-4);
        assert!((step.systematic_u_nm - 0.2).abs() < 1e-5);
    }
}
