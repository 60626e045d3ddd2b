//! Mean torque over the last turn and more, in stretches: what the window is too short for.

use crate::curve::AngleStep;
use crate::math::Limited;

/// Width of a stretch, rad (15°).
const STRETCH_RAD: f32 = crate::math::TAU / 24.0;
/// Stretches kept (two turns).
const STRETCHES: usize = 48;

#[derive(Clone, Copy, Debug, Default)]
struct Stretch {
    end_rad: f32,
    width_rad: f32,
    torque: f32,
}

/// The torque of the last two turns in stretches of 15°.
#[derive(Clone, Copy, Debug)]
pub struct History {
    stretches: [Stretch; STRETCHES],
    newest: usize,
}

impl Default for History {
    fn default() -> Self {
        Self {
            stretches: [Stretch::default(); STRETCHES],
            newest: 0,
        }
    }
}

impl History {
    /// Takes in a step.
    pub fn add(&mut self, step: &AngleStep) {
        let full = |s: &Stretch| s.width_rad >= STRETCH_RAD;
        if self.stretches.get(self.newest).is_some_and(full) {
            self.newest = (self.newest + 1) % STRETCHES;
            if let Some(next) = self.stretches.get_mut(self.newest) {
                *next = Stretch::default();
            }
        }
        if let Some(now) = self.stretches.get_mut(self.newest) {
            now.end_rad = step.end_rad;
            now.width_rad += step.width_rad;
            now.torque += step.width_rad * step.torque_nm;
        }
    }

    /// Mean torque between two bolt angles, N·m, each stretch as if it were level; `None` where nothing is
    /// kept of them.
    // Six places ask: unrolled into each it would take 4 kB of flash.
    #[inline(never)]
    pub fn mean_nm(&self, from_rad: f32, to_rad: f32) -> Option<f32> {
        let (mut width, mut torque) = (0.0, 0.0);
        // From the newest back, and no further than it must.
        let (older, newer) = self.stretches.split_at((self.newest + 1).min(STRETCHES));
        for s in older.iter().rev().chain(newer.iter().rev()) {
            if !(s.width_rad > 0.0 && s.end_rad > from_rad) {
                break;
            }
            // A stroke that is joined late comes as one stretch: what of it lies between counts.
            let (start_rad, end_rad) = (s.end_rad - s.width_rad, s.end_rad.at_most(to_rad));
            let within_rad = end_rad - start_rad.at_least(from_rad);
            if within_rad > 0.0 {
                width += within_rad;
                torque += s.torque * (within_rad / s.width_rad);
            }
        }
        (width > 0.0).then(|| torque / width)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stroke_that_came_as_one_stretch_counts_where_it_lies() {
        let step = |end_rad: f32, width_rad: f32, torque_nm: f32| AngleStep {
            end_rad,
            width_rad,
            torque_nm,
            ..AngleStep::default()
        };
        let mut history = History::default();
        history.add(&step(1.0, 1.0, 3.0));
        // A dead locking feature: the stroke is joined when the head seats.
        history.add(&step(2.5, 1.5, 0.2));
        let mean = |from, to| history.mean_nm(from, to);
        assert_eq!(mean(1.4, 2.2), Some(0.2));
        assert!(mean(0.5, 1.5).is_some_and(|nm| (nm - 1.6).abs() < 1e-6));
        assert_eq!(mean(2.6, 3.0), None);
        assert_eq!(mean(-1.0, -0.5), None);
    }
}
