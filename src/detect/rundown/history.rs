//! Mean torque over the last turn and more, in stretches: what the window is too short for.

use crate::curve::AngleStep;

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

    /// Mean torque of the stretches that lie between two bolt angles, N·m; `None` where none does.
    // Six places ask: unrolled into each it would take 4 kB of flash.
    #[inline(never)]
    pub fn mean_nm(&self, from_rad: f32, to_rad: f32) -> Option<f32> {
        let (mut width, mut torque) = (0.0, 0.0);
        // From the newest back, and no further than it must.
        let (older, newer) = self.stretches.split_at((self.newest + 1).min(STRETCHES));
        for s in older.iter().rev().chain(newer.iter().rev()) {
            if !(s.width_rad > 0.0 && s.end_rad - s.width_rad >= from_rad) {
                break;
            }
            if s.end_rad <= to_rad {
                width += s.width_rad;
                torque += s.torque;
            }
        }
        (width > 0.0).then(|| torque / width)
    }
}
