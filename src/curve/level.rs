//! Level and scatter of the run so far: what a rise or a fall must stand out of.

use crate::math::{Limited, TAU, sqrt};

use super::window::{PastStep, Window};

/// Bolt angle over which the past is forgotten (one turn).
const MEMORY_RAD: f32 = TAU;
/// Steps of the line that the scatter is taken around (32°).
const SCATTER_STEPS: usize = 64;

/// Running level and scatter of the torque while the bolt is run down.
///
/// The level lags by the length of the window, so that a rise does not hide itself; the scatter is
/// taken around the window's own line, so that a rise does not count as scatter.
#[derive(Clone, Copy, Debug, Default)]
pub struct Level {
    mean_nm: f32,
    mean_weight_rad: f32,
    square: f32,
    square_weight_rad: f32,
}

impl Level {
    /// Adds the newest step; `window` already holds it.
    pub fn add(&mut self, window: &Window) {
        let Some(newest) = window.newest() else {
            return;
        };
        if window.len() >= SCATTER_STEPS {
            if let Some(oldest) = window.iter().next() {
                self.add_mean(oldest);
            }
            if let Some(line) = window.line(SCATTER_STEPS) {
                self.square_weight_rad =
                    (self.square_weight_rad + newest.width_rad).at_most(MEMORY_RAD);
                let share = newest.width_rad / self.square_weight_rad;
                self.square += (line.residual * line.residual - self.square) * share.at_most(1.0);
            }
        }
    }

    /// The torque of the whole window is the level from now on, not a rise above it.
    pub fn settle(&mut self, window: &Window) {
        self.mean_nm = window.mean_torque_nm(SCATTER_STEPS);
    }

    fn add_mean(&mut self, step: &PastStep) {
        self.mean_weight_rad = (self.mean_weight_rad + step.width_rad).at_most(MEMORY_RAD);
        let share = step.width_rad / self.mean_weight_rad;
        self.mean_nm += (step.torque_nm - self.mean_nm) * share.at_most(1.0);
    }

    /// Mean torque, N·m; `None` until more than the window has been seen.
    pub fn mean_nm(&self) -> Option<f32> {
        (self.mean_weight_rad > 0.0).then_some(self.mean_nm)
    }

    /// Scatter around the local line, N·m, 1 sigma; 0 until a window has been seen.
    pub fn scatter_nm(&self) -> f32 {
        sqrt(self.square)
    }
}
