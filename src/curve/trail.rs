//! The stretch around snug, in finer bins than the run.

use super::binned::BinnedCurve;
use super::window::Window;

/// Bins of the stretch around snug.
pub const TRAIL: usize = 64;
/// Steps that are taken over at a time: those before the event are older than it by up to a window.
const STEPS_AT_ONCE: usize = 8;

/// The curve from the window before the snug event on. Bounded: takes over 8 steps of the window with
/// every new one, so it has caught up 10 steps after the event.
#[derive(Clone, Debug)]
pub struct Trail {
    curve: BinnedCurve<TRAIL>,
    /// Steps of the window that are not in it yet.
    behind: usize,
}

impl Trail {
    /// A trail that begins with the oldest step of the window.
    pub fn new(window: &Window) -> Self {
        let mut trail = Self {
            curve: BinnedCurve::new(window.iter().next().map_or(0.0, |s| s.angle_rad)),
            behind: window.len(),
        };
        trail.catch_up(window);
        trail
    }

    /// Follows the window, which has got one step more.
    pub fn follow(&mut self, window: &Window) {
        self.behind += 1;
        self.catch_up(window);
    }

    /// The curve with all steps so far.
    pub fn curve(&self, window: &Window) -> BinnedCurve<TRAIL> {
        let mut curve = self.curve.clone();
        for step in window.last(self.behind) {
            curve.add(step);
        }
        curve
    }

    fn catch_up(&mut self, window: &Window) {
        let count = self.behind.min(STEPS_AT_ONCE);
        for step in window.last(self.behind).take(count) {
            self.curve.add(step);
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
        let mut trail: Option<Trail> = None;
        let mut plain = BinnedCurve::<TRAIL>::new(0.0);
        for i in 0..300_u32 {
            let step = AngleStep {
                angle_rad: i as f32 * 0.009,
                width_rad: 0.009,
                torque_nm: (i % 11) as f32,
                ..AngleStep::default()
            };
            window.push(step);
            match &mut trail {
                None if i == 100 => {
                    plain = BinnedCurve::new(window.iter().next().map_or(0.0, |s| s.angle_rad));
                    window.iter().for_each(|s| plain.add(s));
                    trail = Some(Trail::new(&window));
                }
                None => continue,
                Some(trail) => {
                    plain.add(&step);
                    trail.follow(&window);
                }
            }
            let Some(trail) = &trail else { continue };
            assert!(trail.curve(&window).iter().eq(plain.iter()), "after {i}");
            assert!(i < 110 || trail.behind == 0);
        }
    }
}
