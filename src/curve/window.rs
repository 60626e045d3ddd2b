//! The last stretch of the curve, step by step.
//!
//! Sums over every eighth of the window are kept, so that a line through all of it takes 8 of those
//! and up to 14 single steps (bounded: at most 15 of either kind for a line of any length). Each is
//! taken about its own mean and shifted when it is used; nothing is ever subtracted again, so no error
//! grows over the run.

use super::line::{Line, Point};
use super::step::AngleStep;
use super::sums::Sums;

/// Steps kept (32° of steady turning).
pub const WINDOW: usize = 64;
/// Steps of one sum that is kept.
const BLOCK: usize = 8;

/// What is kept of an angle step for as long as it is in the window; see [`AngleStep`].
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PastStep {
    /// Time of its last sample, µs, modulo 2³²: for the time between two steps of the window.
    pub time_us: u32,
    /// Mean bolt angle, rad.
    pub angle_rad: f32,
    /// Bolt angle at its end, rad.
    pub end_rad: f32,
    /// Width, rad.
    pub width_rad: f32,
    /// Mean torque, N·m.
    pub torque_nm: f32,
    /// White part of the standard uncertainty of that mean, N·m.
    pub noise_nm: f32,
    /// Mean position of the tool along the bolt axis, m; NaN without an arm.
    advance_m: f32,
}

impl PastStep {
    const EMPTY: Self = Self::of(&AngleStep::EMPTY);

    const fn of(step: &AngleStep) -> Self {
        Self {
            time_us: step.time_us as u32,
            angle_rad: step.angle_rad,
            end_rad: step.end_rad,
            width_rad: step.width_rad,
            torque_nm: step.torque_nm,
            noise_nm: step.noise_nm,
            advance_m: match step.advance_m {
                Some(advance_m) => advance_m,
                None => f32::NAN,
            },
        }
    }

    /// Mean position of the tool along the bolt axis, m; `None` without an arm.
    pub fn advance_m(&self) -> Option<f32> {
        Some(self.advance_m).filter(|m| !m.is_nan())
    }

    /// Its place on the curve, weighted by the angle it covers.
    pub const fn point(&self) -> Point {
        Point {
            x: self.angle_rad,
            y: self.torque_nm,
            weight: self.width_rad,
        }
    }
}

/// The last [`WINDOW`] angle steps: the newest as it is, of the others what slopes and means need.
#[derive(Clone, Debug)]
pub struct Window {
    newest: AngleStep,
    steps: [PastStep; WINDOW],
    blocks: [Sums; WINDOW / BLOCK],
    /// Steps ever pushed; step `p` lies at `p` modulo the window.
    pushed: usize,
    len: usize,
}

impl Default for Window {
    fn default() -> Self {
        Self {
            newest: AngleStep::EMPTY,
            steps: [PastStep::EMPTY; WINDOW],
            blocks: [Sums::EMPTY; WINDOW / BLOCK],
            pushed: 0,
            len: 0,
        }
    }
}

impl Window {
    /// Adds a step; the oldest goes when the window is full.
    pub fn push(&mut self, step: AngleStep) {
        let (place, last) = (self.pushed % WINDOW, self.pushed % BLOCK == BLOCK - 1);
        if let Some(slot) = self.steps.get_mut(place) {
            *slot = PastStep::of(&step);
        }
        self.newest = step;
        // Wraps at a multiple of the window.
        self.pushed = self.pushed.wrapping_add(1);
        self.len = (self.len + 1).min(WINDOW);
        if last && let Some(block) = self.blocks.get_mut(place / BLOCK) {
            let mut sums = Sums::about(step.angle_rad, step.torque_nm);
            for step in self.steps.iter().take(place + 1).skip(place + 1 - BLOCK) {
                sums.add(&step.point(), step.noise_nm);
            }
            *block = sums.centred();
        }
    }

    /// Steps, oldest first.
    pub fn iter(&self) -> impl Iterator<Item = &PastStep> + Clone {
        self.last(WINDOW)
    }

    /// The last `count` steps, oldest first.
    pub fn last(&self, count: usize) -> impl Iterator<Item = &PastStep> + Clone {
        let count = count.min(self.len);
        let first = self.pushed.wrapping_sub(count) % WINDOW;
        let (newer, older) = self.steps.split_at(first);
        older.iter().chain(newer).take(count)
    }

    /// Number of steps held.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether nothing is held.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The newest step.
    pub fn newest(&self) -> Option<&AngleStep> {
        (self.len > 0).then_some(&self.newest)
    }

    /// Mean torque over the last `count` steps, N·m; 0 while empty.
    pub fn mean_torque_nm(&self, count: usize) -> f32 {
        let (mut w, mut sum) = (0.0, 0.0);
        self.walk(count, |part| {
            let (width, torque) = match part {
                Part::Step(s) => (s.width_rad, s.torque_nm),
                Part::Block(b) => (b.weight, b.y),
            };
            w += width;
            sum += width * torque;
        });
        if w > 0.0 { sum / w } else { 0.0 }
    }

    /// Line of torque (N·m) over bolt angle (rad) through the last `count` steps; its slope error
    /// is never below what the known noise of the steps allows.
    pub fn line(&self, count: usize) -> Option<Line> {
        self.line_up_to(count, None)
    }

    /// As [`Window::line`], and through a step that is not in the window yet.
    pub fn line_up_to(&self, count: usize, unfinished: Option<&AngleStep>) -> Option<Line> {
        let newest = unfinished.or(self.newest())?;
        let mut sums = Sums::about(newest.angle_rad, newest.torque_nm);
        self.walk(count, |part| match part {
            Part::Step(step) => sums.add(&step.point(), step.noise_nm),
            Part::Block(block) => sums.join(block),
        });
        if let Some(step) = unfinished {
            sums.add(&step.point(), step.noise_nm);
        }
        sums.centred().line()
    }

    /// The last `count` steps, oldest first, eight at a time where their sums are kept: some of the
    /// block in which the oldest lies, whole blocks, some of the block in which the newest lies.
    #[inline(always)]
    fn walk<'a>(&'a self, count: usize, mut take: impl FnMut(Part<'a>)) {
        let count = count.min(self.len);
        let mut at = self.pushed.wrapping_sub(count) % WINDOW;
        let head = (at.wrapping_neg() % BLOCK).min(count);
        let blocks = (count - head) / BLOCK;
        let tail = (count - head) % BLOCK;
        let steps =
            |from: usize, count: usize| self.steps.get(from..from + count).into_iter().flatten();
        steps(at, head).for_each(|step| take(Part::Step(step)));
        at = (at + head) % WINDOW;
        for _ in 0..blocks {
            if let Some(block) = self.blocks.get(at / BLOCK) {
                take(Part::Block(block));
            }
            at = (at + BLOCK) % WINDOW;
        }
        steps(at, tail).for_each(|step| take(Part::Step(step)));
    }
}

enum Part<'a> {
    Step(&'a PastStep),
    Block(&'a Sums),
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use crate::math::sqrt;

    /// Steps of a steep, rough run, far from the origin; more than the window holds.
    fn run() -> impl Iterator<Item = AngleStep> {
        (0..300).map(|i| AngleStep {
            angle_rad: 40.0 + 0.009 * i as f32,
            width_rad: 0.008 + 0.001 * (i % 3) as f32,
            torque_nm: 5.0 + 0.2 * i as f32 + 0.1 * (i * i % 7) as f32,
            noise_nm: 0.01,
            ..AngleStep::EMPTY
        })
    }

    /// Against the plain fit, which goes through the points twice, at every place of the blocks.
    #[test]
    fn a_line_of_kept_sums_is_the_line_of_the_steps() {
        let mut window = Window::default();
        for step in run() {
            window.push(step);
            for count in [8, 20, WINDOW] {
                let points = window.last(count).map(PastStep::point);
                let (Some(plain), Some(kept)) = (Line::fit(points), window.line(count)) else {
                    assert!(window.len() < 3);
                    continue;
                };
                assert_eq!(kept.count, plain.count);
                for (kept, plain, name) in [
                    (kept.x_mean, plain.x_mean, "x"),
                    (kept.y_mean, plain.y_mean, "y"),
                    (kept.slope, plain.slope, "slope"),
                    (kept.residual, plain.residual, "residual"),
                    (kept.slope_u, plain.slope_u, "slope_u"),
                ] {
                    let off = (kept / plain - 1.0).abs();
                    assert!(off < 2e-3, "{name} of {count}: {kept} for {plain}");
                }
                let mean = window.mean_torque_nm(count);
                assert!((mean / plain.y_mean - 1.0).abs() < 1e-5);
            }
        }
        assert_eq!(window.iter().count(), WINDOW);
    }

    #[test]
    fn known_noise_is_the_least_error_of_a_smooth_run() {
        let mut window = Window::default();
        for i in 0..WINDOW {
            window.push(AngleStep {
                angle_rad: i as f32 * 0.01,
                width_rad: 0.01,
                torque_nm: 1.0,
                noise_nm: 0.5,
                ..AngleStep::EMPTY
            });
        }
        let line = window.line(WINDOW).expect("a full window");
        // n readings of noise σ at a spacing d: σ/(d·√(n³/12)), and σ/√n for the mean.
        let n = WINDOW as f32;
        assert!((line.slope_u / (0.5 / (0.01 * sqrt(n * n * n / 12.0))) - 1.0).abs() < 0.01);
        assert!((line.mean_u / (0.5 / sqrt(n)) - 1.0).abs() < 0.01);
    }
}
