//! The stretch around snug, in finer bins than the run.

use super::binned::BinnedCurve;
use super::window::Window;

/// Bins of the stretch around snug.
pub const TRAIL: usize = 64;
/// Steps that are taken over at a time: those before the event are older than it by up to a window.
const STEPS_AT_ONCE: usize = 2;

/// The curve from the window before the snug event on. Bounded: takes over 2 steps of the window with
/// every new one, so it has caught up 64 steps after the event.
#[derive(Clone, Debug)]
pub struct Trail {
    curve: BinnedCurve<TRAIL>,
    /// Steps of the window that are not in it yet.
    behind: usize,
    followed: bool,
}

impl Default for Trail {
    fn default() -> Self {
        Self {
            curve: BinnedCurve::new(0.0),
            behind: 0,
            followed: false,
        }
    }
}

impl Trail {
    /// Begins with the oldest step of the window.
    pub fn begin(&mut self, window: &Window) {
        self.followed = true;
        self.behind = window.len();
        let oldest = window.iter().next();
        self.curve.restart(oldest.map_or(0.0, |s| s.angle_rad));
        self.catch_up(window);
    }

    /// Drops what it has: the event was none.
    pub fn withdraw(&mut self) {
        self.followed = false;
        self.curve.restart(0.0);
    }

    /// Follows the window, which has got one step more; nothing to do before it begins.
    pub fn follow(&mut self, window: &Window) {
        if self.followed {
            self.behind += 1;
            self.catch_up(window);
        }
    }

    /// The curve with all steps so far; `None` before it begins.
    pub fn curve(&self, window: &Window) -> Option<BinnedCurve<TRAIL>> {
        if !self.followed {
            return None;
        }
        let mut curve = self.curve.clone();
        for step in window.last(self.behind) {
            curve.add(&step.point());
        }
        Some(curve)
    }

    fn catch_up(&mut self, window: &Window) {
        let count = self.behind.min(STEPS_AT_ONCE);
        for step in window.last(self.behind).take(count) {
            self.curve.add(&step.point());
        }
        self.behind -= count;
    }
}

#[cfg(test)]
mod tests {
    use super::super::AngleStep;
    use super::*;

    #[test]
    fn a_trail_that_catches_up_loses_no_step() {
        let mut window = Window::default();
        let mut trail = Trail::default();
        let mut plain = BinnedCurve::<TRAIL>::new(0.0);
        for i in 0..300_u32 {
            let step = AngleStep {
                angle_rad: i as f32 * 0.009,
                width_rad: 0.009,
                torque_nm: (i % 11) as f32,
                ..AngleStep::default()
            };
            window.push(step);
            if i == 100 {
                plain = BinnedCurve::new(window.iter().next().map_or(0.0, |s| s.angle_rad));
                window.iter().for_each(|s| plain.add(&s.point()));
                trail.begin(&window);
            } else {
                plain.add(&step.point());
                trail.follow(&window);
            }
            let curve = trail.curve(&window);
            assert_eq!(curve.is_some(), i >= 100);
            assert!(curve.is_none_or(|c| c.iter().eq(plain.iter())), "after {i}");
            assert!(i < 164 || trail.behind == 0);
        }
        trail.withdraw();
        assert!(trail.curve(&window).is_none());
    }
}
