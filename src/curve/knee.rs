//! The snug angle: where the elastic line meets the line of the prevailing torque.
//!
//! Asked for, not part of an update. Bounded: 18 stretches that a line is looked for in, at most 128
//! carries either way, 10 stretches of the prevailing line and 2 weighted lines, each one or two fits of two
//! passes over the bins of its curve.

use crate::math::sqrt;

use super::binned::BinnedCurve;
use super::line::{Line, Point};
use super::scatter::Scatter;

/// The snug angle and the two lines it comes from. Angles in rad, driving direction positive.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Knee {
    /// Bolt angle of the intersection, rad.
    pub angle_rad: f32,
    /// Its standard uncertainty from the two fits, rad.
    pub angle_u_rad: f32,
    /// Torque of the intersection, N·m.
    pub torque_nm: f32,
    /// The elastic line, N·m over rad.
    pub elastic: Line,
}

/// Stretch of rundown before the knee that the prevailing line is fitted to at first (half a turn).
const PREVAILING_RAD: f32 = core::f32::consts::PI;
/// How often that stretch is carried back by as much again while the level stays the same.
const PREVAILING_STRETCHES: usize = 6;
/// Least distance of that stretch from the knee (5°).
const LEAST_MARGIN_RAD: f32 = 0.087;
/// Margin as a part of the elastic stretch: the snugging toe lies in it.
const MARGIN_PART: f32 = 0.3;
/// Levels between prevailing (0) and highest torque (1) where the elastic line is looked for first:
/// above the toe, below the last overshoot.
const CORE: (f32, f32) = (0.3, 0.9);
/// Level that parts the core into halves; where the upper one is less steep than this part of the
/// lower, the joint yields and the lower alone is elastic.
const HALFWAY: f32 = 0.62;
const YIELDED: f32 = 0.75;
/// Where that is not the steepest part (the joint settled between two stops, or yielded early), a
/// narrower stretch is looked for from this level on, in these steps and of this width ...
const LOWEST_LEVEL: f32 = 0.12;
const LEVEL_STEP: f32 = 0.04;
const LEVEL_WIDTH: f32 = 0.3;
/// ... and taken if its slope, less so many standard errors, is so much steeper.
const CAUTION: f32 = 2.0;
const STEEPER: f32 = 1.25;
/// How often a stretch is carried on, either way: a line has three bins or more, so a quarter of it is
/// half a bin or more, and the trail has 64.
const MOST_CARRIES: usize = 128;
/// A stretch whose slope departs by more than this part from the line so far is left out.
const SAME_SLOPE: f32 = 0.12;
/// A prevailing line steeper than this part of the elastic one is no prevailing line: its level is
/// used instead.
const LEVEL_PART: f32 = 0.15;

/// Finds the knee. `trail` holds the stretch around snug in fine bins, `curve` the whole run,
/// `level_nm` is the usual torque of the rundown, if it is known. `None` while the rise is too short
/// for a line.
pub fn knee<const T: usize, const B: usize>(
    trail: &BinnedCurve<T>,
    curve: &BinnedCurve<B>,
    level_nm: Option<f32>,
) -> Option<Knee> {
    let peak = trail
        .iter()
        .max_by(|a, b| a.torque_nm.total_cmp(&b.torque_nm))?;
    let base_nm = level_nm.unwrap_or_else(|| {
        let first = trail.points().take(6);
        let (w, sum) = first.fold((0.0, 0.0), |(w, s), p| (w + p.weight, s + p.weight * p.y));
        sum / w
    });
    let rise = Rise {
        peak_rad: peak.angle_rad,
        base_nm,
        rise_nm: peak.torque_nm - base_nm,
    };
    if !(rise.rise_nm > 0.0) {
        return None;
    }
    let stretch = elastic_line(trail, &rise)?;
    if !(stretch.line.slope > 0.0) {
        return None;
    }

    // The margin depends on the knee and the knee on the margin, and the weights on both: two rounds settle it.
    let points = between(trail, stretch.from_rad, stretch.to_rad);
    let plain = stretch.line;
    let (mut elastic, mut shares) = (plain, None);
    let mut angle_rad = plain.x_mean - (plain.y_mean - base_nm) / plain.slope;
    let mut base = Base::level(base_nm);
    for _ in 0..2 {
        let by = Shares::of(points.clone(), &plain, angle_rad, base.scatter.residual());
        let weighed = Line::fit(points.clone().map(|p| by.weigh(p))).filter(|l| l.slope > 0.0);
        (elastic, shares) = weighed.map_or((plain, None), |line| (line, Some(by)));
        let margin = (MARGIN_PART * (peak.angle_rad - angle_rad)).max(LEAST_MARGIN_RAD);
        base = prevailing(curve, angle_rad, margin, elastic.slope).unwrap_or(base);
        angle_rad = base.meets(&elastic);
    }
    // Beyond the knee the thread runs on as roughly as before it.
    let weigh = |p| shares.map_or(p, |by| by.weigh(p));
    let own = Scatter::of(points.map(weigh), &elastic);
    let elastic_u = own
        .at_u(&elastic, angle_rad)
        .max(base.scatter.at_u(&elastic, angle_rad));
    let u_nm = sqrt(elastic_u * elastic_u + base.u_nm * base.u_nm);
    let half_bin = 0.5 * trail.step_rad() / sqrt(3.0);
    let fit_u = u_nm / (elastic.slope - base.slope);
    // Were the rise straight, both lines would begin at one angle. Where they do not (a joint that settled
    // at stops), the truth may lie anywhere between (JCGM 100, 4.3.7, about one end).
    let by_weights = (angle_rad - base.meets(&plain)) / sqrt(3.0);
    let bins_square = half_bin * half_bin / elastic.count as f32;
    angle_rad.is_finite().then_some(Knee {
        angle_rad,
        angle_u_rad: sqrt(fit_u * fit_u + by_weights * by_weights + bins_square),
        torque_nm: base.torque_nm + base.slope * (angle_rad - base.angle_rad),
        elastic,
    })
}

/// How much the torque of each point tells of where the line begins. Friction varies in proportion to what
/// it carries (torque is preload times friction, ISO 16047), beside what varies in the rundown already: a
/// point far up scatters more, and weighs less.
#[derive(Clone, Copy)]
struct Shares {
    slope: f32,
    knee_rad: f32,
    /// Variance of the rundown, and what the line has beyond it at 1 N·m, N²·m² and 1.
    base_square: f32,
    part_square: f32,
}

impl Shares {
    /// For the points that this line was fitted to, with the scatter of the rundown.
    fn of(
        points: impl Iterator<Item = Point>,
        line: &Line,
        knee_rad: f32,
        base_scatter_nm: f32,
    ) -> Self {
        let (mut weight, mut square) = (0.0_f32, 0.0_f32);
        for p in points {
            let nm = line.slope * (p.x - knee_rad);
            weight += p.weight;
            square += p.weight * nm * nm;
        }
        let base_square = base_scatter_nm * base_scatter_nm;
        let beyond = (line.residual * line.residual - base_square).max(0.0);
        Self {
            slope: line.slope,
            knee_rad,
            base_square,
            part_square: beyond * weight / square,
        }
    }

    fn weigh(&self, p: Point) -> Point {
        let nm = self.slope * (p.x - self.knee_rad);
        let share = 1.0 / (self.base_square + self.part_square * nm * nm);
        Point {
            // A line without any scatter needs no weights.
            weight: if share.is_finite() { share } else { 1.0 } * p.weight,
            ..p
        }
    }
}

struct Rise {
    peak_rad: f32,
    base_nm: f32,
    rise_nm: f32,
}

impl Rise {
    /// Angle at which the trail first passes the level (0 base, 1 peak).
    fn passage_rad<const T: usize>(&self, trail: &BinnedCurve<T>, level: f32) -> f32 {
        let torque = self.base_nm + level * self.rise_nm;
        trail
            .iter()
            .find(|b| b.torque_nm >= torque)
            .map_or(self.peak_rad, |b| b.angle_rad.min(self.peak_rad))
    }
}

fn between<const T: usize>(
    trail: &BinnedCurve<T>,
    from: f32,
    to: f32,
) -> impl Iterator<Item = Point> + Clone + '_ {
    trail.points().filter(move |p| p.x >= from && p.x <= to)
}

/// A straight stretch of the rise.
struct Stretch {
    line: Line,
    from_rad: f32,
    to_rad: f32,
}

/// The straight part of the rise: a core, carried on both ways while its slope lasts.
fn elastic_line<const T: usize>(trail: &BinnedCurve<T>, rise: &Rise) -> Option<Stretch> {
    let stretch = |from: f32, to: f32| {
        let (from, to) = (rise.passage_rad(trail, from), rise.passage_rad(trail, to));
        Line::fit(between(trail, from, to)).map(|line| (line, from, to))
    };
    let cautious = |l: &Line| l.slope - CAUTION * l.slope_u;
    let steps = ((1.0 - LEVEL_WIDTH - LOWEST_LEVEL) / LEVEL_STEP) as u32;
    let steepest = (0..=steps)
        .map(|i| LOWEST_LEVEL + i as f32 * LEVEL_STEP)
        .filter_map(|level| stretch(level, level + LEVEL_WIDTH))
        .max_by(|(a, ..), (b, ..)| cautious(a).total_cmp(&cautious(b)));
    let core = match (stretch(CORE.0, HALFWAY), stretch(HALFWAY, CORE.1)) {
        (Some(lower), Some((upper, ..)))
            if upper.slope + CAUTION * upper.slope_u < YIELDED * lower.0.slope =>
        {
            Some(lower)
        }
        _ => stretch(CORE.0, CORE.1),
    };
    let (mut line, mut from, mut to) = match (core, steepest) {
        (Some(core), Some(steep)) if cautious(&steep.0) > STEEPER * core.0.slope => steep,
        (Some(core), _) => core,
        // A rise of a few bins only: take all of it above the toe.
        (None, steep) => {
            let (line, from_rad, to_rad) = stretch(2.0 * LOWEST_LEVEL, 1.0).or(steep)?;
            return Some(Stretch {
                line,
                from_rad,
                to_rad,
            });
        }
    };
    let reach = 0.25 * (to - from);
    let lowest = rise.passage_rad(trail, LOWEST_LEVEL);
    for _ in 0..MOST_CARRIES {
        let on = to < rise.peak_rad && same_slope(&line, Line::fit(between(trail, to, to + reach)));
        if !on {
            break;
        }
        to = (to + reach).min(rise.peak_rad);
        line = Line::fit(between(trail, from, to)).unwrap_or(line);
    }
    for _ in 0..MOST_CARRIES {
        let on = from > lowest && same_slope(&line, Line::fit(between(trail, from - reach, from)));
        if !on {
            break;
        }
        from = (from - reach).max(lowest);
        line = Line::fit(between(trail, from, to)).unwrap_or(line);
    }
    Some(Stretch {
        line,
        from_rad: from,
        to_rad: to,
    })
}

/// Whether a neighbouring stretch goes on with the slope of the line. One too short for a slope of
/// its own does not speak against it only when it holds no bin at all.
fn same_slope(line: &Line, stretch: Option<Line>) -> bool {
    match stretch {
        Some(s) => {
            let apart = (s.slope - line.slope).abs();
            let room = SAME_SLOPE * line.slope;
            apart <= room.max(2.0 * s.slope_u.min(line.slope))
        }
        None => false,
    }
}

/// The prevailing torque before the knee: a level or a gently sloping line.
struct Base {
    angle_rad: f32,
    torque_nm: f32,
    slope: f32,
    u_nm: f32,
    scatter: Scatter,
}

impl Base {
    fn level(torque_nm: f32) -> Self {
        Self {
            angle_rad: 0.0,
            torque_nm,
            slope: 0.0,
            u_nm: 0.0,
            scatter: Scatter::default(),
        }
    }

    /// Bolt angle at which an elastic line meets it, rad.
    fn meets(&self, elastic: &Line) -> f32 {
        // Written around the elastic mean, so that no large angles are subtracted.
        let at_mean_nm = self.torque_nm + self.slope * (elastic.x_mean - self.angle_rad);
        elastic.x_mean - (elastic.y_mean - at_mean_nm) / (elastic.slope - self.slope)
    }
}

fn prevailing<const B: usize>(
    curve: &BinnedCurve<B>,
    knee_rad: f32,
    margin_rad: f32,
    elastic_slope: f32,
) -> Option<Base> {
    let to = knee_rad - margin_rad;
    let stretch = |from: f32, to: f32| Line::fit(between(curve, from, to));
    let mut from = to - PREVAILING_RAD;
    let mut line = stretch(from, to)?;
    for _ in 1..PREVAILING_STRETCHES {
        let Some(before) = stretch(from - PREVAILING_RAD, from) else {
            break;
        };
        // Bins scatter alike over some angle, so the residual is no measure of the mean's error:
        // a whole scatter is the room that neighbouring stretches are given.
        if (before.y_mean - line.y_mean).abs() > line.residual.max(before.residual) {
            break;
        }
        from -= PREVAILING_RAD;
        line = stretch(from, to).unwrap_or(line);
    }
    let scatter = Scatter::of(between(curve, from, to), &line);
    let steep = line.slope.abs() > LEVEL_PART * elastic_slope;
    // A slope that scatter could have made, neighbours being alike, is none.
    let slope = if steep || line.slope.abs() < 6.0 * line.slope_u {
        0.0
    } else {
        line.slope
    };
    Some(Base {
        angle_rad: line.x_mean,
        torque_nm: line.y_mean,
        slope,
        u_nm: scatter.at_u(&line, knee_rad),
        scatter,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Friction that varies by 3 % over some 4°: where the line leads back to, over many surfaces, weighted
    /// and plain over the same stretch (Aitken: weights by the inverse variance are best), and what the
    /// knee states.
    #[test]
    fn friction_that_varies_in_proportion_moves_the_knee_little_and_as_stated() {
        const TRIALS: u32 = 400;
        let mut state = 7_u32;
        let mut white = || {
            // Sum of four uniform numbers, of unit variance.
            (0..4).fold(-2.0_f32, |sum, _| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                sum + (state >> 8) as f32 / (1 << 24) as f32
            }) * sqrt(3.0)
        };
        // A turn of rundown at 0.5 N·m, then 10 N·m/rad over 240°.
        let (step_rad, knee_rad, rate, end_rad) = (0.00873_f32, 6.3_f32, 10.0_f32, 10.5_f32);
        let (mut plain, mut weighed, mut found, mut stated) = (0.0_f32, 0.0, 0.0, 0.0);
        let square = |x_rad: f32| (x_rad - knee_rad) * (x_rad - knee_rad);
        for _ in 0..TRIALS {
            let mut curve = BinnedCurve::<256>::new(0.0);
            let mut trail = BinnedCurve::<64>::new(knee_rad - 0.5);
            let mut grain = white();
            for i in 0..(end_rad / step_rad) as u32 {
                // Correlation of 0.88 from one half degree to the next.
                grain = 0.88 * grain + 0.475 * white();
                let x = (i as f32 + 0.5) * step_rad;
                let point = Point {
                    x,
                    y: 0.5 + rate * (x - knee_rad).max(0.0) * (1.0 + 0.03 * grain) + 0.02 * white(),
                    weight: step_rad,
                };
                curve.add(&point);
                if x > knee_rad - 0.5 {
                    trail.add(&point);
                }
            }
            let points = between(&trail, knee_rad + 0.5, end_rad);
            let back = |line: &Line| line.x_mean - (line.y_mean - 0.5) / line.slope;
            let line = Line::fit(points.clone()).expect("a line");
            let shares = Shares::of(points.clone(), &line, back(&line), 0.02);
            plain += square(back(&line));
            let line = Line::fit(points.map(|p| shares.weigh(p))).expect("a line");
            weighed += square(back(&line));
            let knee = knee(&trail, &curve, Some(0.5)).expect("a knee");
            found += square(knee.angle_rad);
            stated += knee.angle_u_rad * knee.angle_u_rad;
        }
        let ratio = sqrt(weighed / plain);
        assert!(ratio < 0.7, "{ratio} of the plain fit's");
        let ratio = sqrt(stated / found);
        assert!((0.75..1.5).contains(&ratio), "{ratio} stated over true");
    }
}
