//! The last stretch of the curve, step by step.
//!
//! Sums over every eighth of the window are kept, so that a line through all of it takes 8 of those
//! and up to 14 single steps (bounded: at most 15 of either kind for a line of any length). Each is
//! taken about its own mean and shifted when it is used; nothing is ever subtracted again, so no error
//! grows over the run.

use super::line::Line;
use super::step::AngleStep;
use crate::math::sqrt;

/// Steps kept (32° of steady turning).
pub const WINDOW: usize = 64;
/// Steps of one sum that is kept.
const BLOCK: usize = 8;

/// The last [`WINDOW`] angle steps.
#[derive(Clone, Debug)]
pub struct Window {
    steps: [AngleStep; WINDOW],
    blocks: [Sums; WINDOW / BLOCK],
    /// Steps ever pushed; step `p` lies at `p` modulo the window.
    pushed: usize,
    len: usize,
}

impl Default for Window {
    fn default() -> Self {
        Self {
            steps: [AngleStep::EMPTY; WINDOW],
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
            *slot = step;
        }
        // Wraps at a multiple of the window.
        self.pushed = self.pushed.wrapping_add(1);
        self.len = (self.len + 1).min(WINDOW);
        if last && let Some(block) = self.blocks.get_mut(place / BLOCK) {
            let mut sums = Sums::about(&step);
            for step in self.steps.iter().take(place + 1).skip(place + 1 - BLOCK) {
                sums.add(step);
            }
            *block = sums.centred();
        }
    }

    /// Steps, oldest first.
    pub fn iter(&self) -> impl Iterator<Item = &AngleStep> + Clone {
        self.last(WINDOW)
    }

    /// The last `count` steps, oldest first.
    pub fn last(&self, count: usize) -> impl Iterator<Item = &AngleStep> + Clone {
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
        self.last(1).next()
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
        let mut sums = Sums::about(unfinished.or(self.newest())?);
        self.walk(count, |part| match part {
            Part::Step(step) => sums.add(step),
            Part::Block(block) => sums.join(block),
        });
        if let Some(step) = unfinished {
            sums.add(step);
        }
        sums.centred().line()
    }

    /// The last `count` steps, oldest first, eight at a time where their sums are kept.
    #[inline(always)]
    fn walk<'a>(&'a self, count: usize, mut take: impl FnMut(Part<'a>)) {
        let mut left = count.min(self.len);
        while left > 0 {
            let at = self.pushed.wrapping_sub(left) % WINDOW;
            if at.is_multiple_of(BLOCK) && left >= BLOCK {
                if let Some(block) = self.blocks.get(at / BLOCK) {
                    take(Part::Block(block));
                }
                left -= BLOCK;
            } else {
                if let Some(step) = self.steps.get(at) {
                    take(Part::Step(step));
                }
                left -= 1;
            }
        }
    }
}

enum Part<'a> {
    Step(&'a AngleStep),
    Block(&'a Sums),
}

/// Sums of torque over angle about a point, weighted by the angle covered.
#[derive(Clone, Copy, Debug)]
struct Sums {
    count: u32,
    weight: f32,
    x: f32,
    y: f32,
    sx: f32,
    sy: f32,
    xx: f32,
    xy: f32,
    yy: f32,
    /// Variance of the weighted sum of torques from their known noise, and its first and second
    /// moment over angle.
    noise: [f32; 3],
}

impl Sums {
    const EMPTY: Self = Self {
        count: 0,
        weight: 0.0,
        x: 0.0,
        y: 0.0,
        sx: 0.0,
        sy: 0.0,
        xx: 0.0,
        xy: 0.0,
        yy: 0.0,
        noise: [0.0; 3],
    };

    fn about(step: &AngleStep) -> Self {
        Self {
            x: step.angle_rad,
            y: step.torque_nm,
            ..Self::EMPTY
        }
    }

    #[inline(always)]
    fn add(&mut self, step: &AngleStep) {
        let w = step.width_rad;
        if !(w > 0.0) {
            return;
        }
        let (dx, dy) = (step.angle_rad - self.x, step.torque_nm - self.y);
        let (wx, wy) = (w * dx, w * dy);
        self.count += 1;
        self.weight += w;
        self.sx += wx;
        self.sy += wy;
        self.xx += wx * dx;
        self.xy += wx * dy;
        self.yy += wy * dy;
        let n = w * step.noise_nm;
        let (variance, first) = (n * n, n * n * dx);
        self.noise[0] += variance;
        self.noise[1] += first;
        self.noise[2] += first * dx;
    }

    /// Adds sums about their own mean.
    #[inline(always)]
    fn join(&mut self, other: &Self) {
        let (dx, dy) = (other.x - self.x, other.y - self.y);
        let (wx, wy) = (other.weight * dx, other.weight * dy);
        self.count += other.count;
        self.weight += other.weight;
        self.sx += wx;
        self.sy += wy;
        self.xx += other.xx + wx * dx;
        self.xy += other.xy + wx * dy;
        self.yy += other.yy + wy * dy;
        let [zeroth, first, second] = other.noise;
        let shifted = zeroth * dx;
        self.noise[0] += zeroth;
        self.noise[1] += first + shifted;
        self.noise[2] += second + (first + first + shifted) * dx;
    }

    /// The same about their own mean; empty if they have no weight.
    fn centred(&self) -> Self {
        if !(self.weight > 0.0) {
            return Self::EMPTY;
        }
        let per_weight = 1.0 / self.weight;
        let (mx, my) = (self.sx * per_weight, self.sy * per_weight);
        let [zeroth, first, second] = self.noise;
        let shifted = first - zeroth * mx;
        Self {
            x: self.x + mx,
            y: self.y + my,
            sx: 0.0,
            sy: 0.0,
            xx: self.xx - mx * self.sx,
            xy: self.xy - mx * self.sy,
            yy: self.yy - my * self.sy,
            noise: [zeroth, shifted, second - (first + shifted) * mx],
            ..*self
        }
    }

    /// The line of sums about their own mean, as [`Line::fit`] gives it.
    fn line(&self) -> Option<Line> {
        if self.count < 3 || !(self.xx > 0.0 && self.xx < f32::MAX) {
            return None;
        }
        let (per_xx, per_weight) = (1.0 / self.xx, 1.0 / self.weight);
        let slope = self.xy * per_xx;
        let square = (self.yy - slope * self.xy).max(0.0) / (self.count - 2) as f32;
        let [mean_noise, _, slope_noise] = self.noise;
        Some(Line {
            x_mean: self.x,
            y_mean: self.y,
            slope,
            slope_u: sqrt((square * per_xx).max(slope_noise * per_xx * per_xx)),
            mean_u: sqrt((square * per_weight).max(mean_noise * per_weight * per_weight)),
            residual: sqrt(square * self.count as f32 * per_weight),
            count: self.count,
        })
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::super::Point;
    use super::*;

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
                let points = window.last(count).map(|s| Point {
                    x: s.angle_rad,
                    y: s.torque_nm,
                    weight: s.width_rad,
                });
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
