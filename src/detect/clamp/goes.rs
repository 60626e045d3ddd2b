//! Goes too short for the torque to come down to that of motion: the teeth of a ratchet on a hard joint.
//!
//! What a bolt at rest takes more to break loose lies over all of such a go. So a torque in it is between
//! what it shows and that less the most that rest adds: the lower end tells what was reached, and what
//! shows is the most that is left. Goes are compared with each other, for they carry the same.

use crate::math::Limited;

/// Steps in the means that are compared.
pub(super) const MEAN_STEPS: usize = 3;

/// The highest torque of this go and of the last, N·m; of means that lie in one go altogether.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Goes {
    steps: usize,
    highest_nm: Option<f32>,
    last_nm: Option<f32>,
}

impl Goes {
    /// The bolt has stood: a step that may begin before the stop.
    pub fn begin(&mut self) {
        self.steps = 0;
        if let Some(highest_nm) = self.highest_nm.take() {
            self.last_nm = Some(highest_nm);
        }
    }

    /// Takes in the mean of the last steps, if it lies in this go altogether; whether the torque is surely
    /// lost: this go and the one before stayed below `below_nm`, and this one no higher. A joint that has
    /// settled rises again from go to go.
    pub fn lost(&mut self, mean_nm: f32, below_nm: f32) -> bool {
        if !self.is_whole() {
            return false;
        }
        let highest_nm = self.highest_nm.map_or(mean_nm, |h| h.at_least(mean_nm));
        self.highest_nm = Some(highest_nm);
        let fell = |last_nm| last_nm < below_nm && highest_nm <= last_nm;
        highest_nm < below_nm && self.last_nm.is_some_and(fell)
    }

    /// Whether the mean lies in this go altogether.
    pub fn is_whole(&self) -> bool {
        self.steps >= MEAN_STEPS
    }

    /// Counts a step of this go.
    pub fn count(&mut self) {
        self.steps = self.steps.saturating_add(1);
    }
}
