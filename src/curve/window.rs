//! The last stretch of the curve, step by step.

use heapless::Deque;

use super::line::{Line, Point};
use super::step::AngleStep;

/// Steps kept (32° of steady turning).
pub const WINDOW: usize = 64;

/// The last [`WINDOW`] angle steps.
#[derive(Clone, Debug, Default)]
pub struct Window {
    steps: Deque<AngleStep, WINDOW>,
}

impl Window {
    /// Adds a step; the oldest goes when the window is full.
    pub fn push(&mut self, step: AngleStep) {
        if self.steps.is_full() {
            self.steps.pop_front();
        }
        // Cannot be full after the line above.
        let _ = self.steps.push_back(step);
    }

    /// Steps, oldest first.
    pub fn iter(&self) -> impl Iterator<Item = &AngleStep> + Clone {
        let (older, newer) = self.steps.as_slices();
        older.iter().chain(newer)
    }

    /// The last `count` steps, oldest first.
    pub fn last(&self, count: usize) -> impl Iterator<Item = &AngleStep> + Clone {
        self.iter().skip(self.steps.len().saturating_sub(count))
    }

    /// Number of steps held.
    pub fn len(&self) -> usize {
        self.steps.len()
    }

    /// Whether nothing is held.
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }

    /// The newest step.
    pub fn newest(&self) -> Option<&AngleStep> {
        self.steps.back()
    }

    /// Mean torque over the last `count` steps, N·m; 0 while empty.
    pub fn mean_torque_nm(&self, count: usize) -> f32 {
        let (mut w, mut sum) = (0.0, 0.0);
        for s in self.last(count) {
            w += s.width_rad;
            sum += s.width_rad * s.torque_nm;
        }
        if w > 0.0 { sum / w } else { 0.0 }
    }

    /// Line of torque (N·m) over bolt angle (rad) through the last `count` steps; its slope error
    /// is never below what the known noise of the steps allows.
    pub fn line(&self, count: usize) -> Option<Line> {
        let points = self.last(count).map(|s| Point {
            x: s.angle_rad,
            y: s.torque_nm,
            weight: s.width_rad,
        });
        let mut line = Line::fit(points)?;
        let (mut xx, mut noise, mut w) = (0.0_f32, 0.0_f32, 0.0_f32);
        for s in self.last(count) {
            let dx = s.angle_rad - line.x_mean;
            xx += s.width_rad * dx * dx;
            let n = s.width_rad * s.noise_nm * dx;
            noise += n * n;
            w += s.width_rad;
        }
        if xx > 0.0 {
            line.slope_u = line.slope_u.max(crate::math::sqrt(noise) / xx);
        }
        if w > 0.0 {
            let mean_noise: f32 = self
                .last(count)
                .map(|s| s.width_rad * s.noise_nm / w)
                .map(|n| n * n)
                .sum();
            line.mean_u = line.mean_u.max(crate::math::sqrt(mean_noise));
        }
        Some(line)
    }
}
