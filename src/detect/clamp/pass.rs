//! The way back along the rise that a look at a step takes: slopes over stretches that all end at the
//! newest point, in two halves, for all of it would be more than a sample should bear.
//!
//! Bounded: once over the bins of the rise, and four slopes.

use crate::curve::{AngleStep, BinnedCurve};
use crate::math::{Limited, sqrt};

use super::rise::{CHANGING_PART, OFFSET_RAD, PACE_JUMP, PARTS, STOP_JUMP, WANDER_OVER_RAD};
use super::slope::{Slope, Stretch};

/// What a way back goes by.
pub(super) struct Ways {
    /// Where it begins, and how far the parts of the rise reach back from there, rad.
    pub end_rad: f32,
    pub reach_rad: [f32; PARTS.len()],
    /// The elastic line, if there is one.
    pub line: Option<Slope>,
    pub changes: Changes,
}

/// A way back as far as it has come.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pass {
    sums: Stretch,
    /// Bins that lie before those it has come past.
    bins: usize,
    oldest_rad: Option<f32>,
    /// Stretches that are done.
    parts: usize,
    /// Whether all points so far lie behind the elastic line.
    behind: bool,
    found: [Option<Slope>; PARTS.len() + 1],
}

impl Pass {
    /// From the newest point of the rise; `None` where there is none.
    pub fn begun<const B: usize>(curve: &BinnedCurve<B>) -> Option<Self> {
        let (mut newest, mut bins) = (None, 0);
        curve.backwards(usize::MAX, |index, p| {
            (newest, bins) = (Some(*p), index + 1);
            false
        });
        Some(Self {
            sums: Stretch::from(newest?),
            bins,
            oldest_rad: None,
            parts: 0,
            behind: true,
            found: [None; PARTS.len() + 1],
        })
    }

    /// Goes on until so many parts are done.
    #[inline(never)]
    pub fn go<const B: usize>(&mut self, curve: &BinnedCurve<B>, ways: &Ways, parts: usize) {
        let end_rad = ways.end_rad;
        // Copies are what is taken a slope of: the sums themselves stay in registers.
        let slope = |sums: Stretch, over_rad: f32| ways.changes.slope(&sums, over_rad);
        let until = |part: usize| {
            let reach_rad = ways.reach_rad.get(part);
            reach_rad.map_or(f32::NEG_INFINITY, |reach_rad| end_rad - reach_rad)
        };
        let [in_parts @ .., left] = &mut self.found;
        let (at_rad, at_nm, per_slope) = ways.line.map_or((0.0, 0.0, 0.0), |line| {
            (line.at_rad, line.at_nm, 1.0 / line.value)
        });
        let (mut sums, mut part, mut bins) = (self.sums, self.parts, self.bins);
        let mut behind = self.behind && ways.line.is_some();
        let mut oldest_rad = self.oldest_rad.unwrap_or(end_rad);
        let mut until_rad = until(part);
        curve.backwards(bins, |index, p| {
            if behind && !(p.x - at_rad - (p.y - at_nm) * per_slope > OFFSET_RAD) {
                behind = false;
                *left = slope(sums, end_rad - oldest_rad);
            }
            while p.x < until_rad {
                if let (Some(found), Some(over_rad)) =
                    (in_parts.get_mut(part), ways.reach_rad.get(part))
                {
                    *found = slope(sums, *over_rad);
                }
                part += 1;
                until_rad = until(part);
            }
            if part >= parts {
                return false;
            }
            sums.add(p);
            (oldest_rad, bins) = (p.x, index);
            true
        });
        if behind && part == PARTS.len() {
            // Behind it for all of the longest part: what lies before that changes its slope no more.
            *left = slope(sums, end_rad - oldest_rad);
        }
        (self.sums, self.parts, self.bins) = (sums, part, bins);
        (self.behind, self.oldest_rad) = (behind, Some(oldest_rad));
    }

    /// Slopes over the parts of the rise, and since the curve left the elastic line.
    pub const fn found(&self) -> [Option<Slope>; PARTS.len() + 1] {
        self.found
    }
}

/// What makes the slopes of one look unsure, beside the scatter of their points.
pub(super) struct Changes {
    end_rad: f32,
    /// Bolt angles of the last change of pace and of the last stop, rad.
    other_pace_rad: f32,
    stop_rad: f32,
    /// Square of what may still change of the torque over a stretch, N²·m².
    torque_square: f32,
    /// How much slopes over the two stretches have wandered in the rundown, N·m/rad.
    wander: [f32; 2],
}

impl Changes {
    /// `wander_square`: mean square of the slopes of the rundown over the two stretches, `jumps_rad`:
    /// bolt angle of the last stop and of the last change of pace, rad.
    pub fn of(step: &AngleStep, wander_square: [f32; 2], jumps_rad: (f32, f32)) -> Self {
        let torque_nm = CHANGING_PART * step.systematic_u_nm;
        Self {
            end_rad: step.angle_rad,
            stop_rad: jumps_rad.0,
            other_pace_rad: jumps_rad.1,
            torque_square: torque_nm * torque_nm,
            wander: wander_square.map(sqrt),
        }
    }

    #[inline(never)]
    fn slope(&self, stretch: &Stretch, over_rad: f32) -> Option<Slope> {
        let from_rad = self.end_rad - over_rad;
        let jump = if self.other_pace_rad > from_rad {
            PACE_JUMP
        } else if self.stop_rad > from_rad {
            STOP_JUMP
        } else {
            0.0
        };
        let wander = self.wander(over_rad);
        let per_square = 1.0 / (over_rad * over_rad);
        stretch.slope(over_rad, |mean_nm| {
            let jump_nm = jump * mean_nm;
            (self.torque_square + jump_nm * jump_nm) * per_square + wander * wander
        })
    }

    /// How much the slope over this angle has wandered in the rundown, N·m/rad: straight between the
    /// two angles, which is too much rather than too little, and less in proportion beyond.
    fn wander(&self, over_rad: f32) -> f32 {
        const PER_SPAN: f32 = 1.0 / (WANDER_OVER_RAD[1] - WANDER_OVER_RAD[0]);
        let [short, long] = self.wander;
        let [short_rad, long_rad] = WANDER_OVER_RAD;
        if over_rad > long_rad {
            return long * long_rad / over_rad;
        }
        let share = ((over_rad - short_rad) * PER_SPAN).at_least(0.0);
        short + (long - short) * share
    }
}
