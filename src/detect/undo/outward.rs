//! Whether the bolt comes out of the thread, as far as the arm tells it.
//!
//! Over a turn a sound bolt comes out by its pitch. The hand that holds the tool on the head wanders
//! along the axis meanwhile, slowly, so that many samples are no surer than one: the ratio is told
//! only once the pitch stands out of that.

use crate::curve::AngleStep;
use crate::math::TAU;

/// Standard uncertainty of a distance along the axis between two moments, m (common practice, no
/// source: what a hand on a force-feedback master wanders).
const WANDER_M: f32 = 3.0e-4;
/// Bolt angle in which a socket still comes down onto its head, rad (a quarter turn; common practice,
/// no source): what it moves meanwhile tells nothing.
const SEATS_RAD: f32 = 0.25 * TAU;
/// Axial advance per turn, as a part of the pitch, that parts a bolt that comes out (1) from one that
/// does not (0).
pub const COMES_OUT_RATIO: f32 = 0.5;

/// What the arm tells, two standard uncertainties sure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Advance {
    /// No arm, or too short a way.
    Unknown,
    /// The bolt comes out.
    BacksOut,
    /// It turns and stays.
    Stands,
}

impl Advance {
    fn of(ratio: f32, u: f32) -> Self {
        if ratio - 2.0 * u > COMES_OUT_RATIO {
            Self::BacksOut
        } else if ratio + 2.0 * u < COMES_OUT_RATIO {
            Self::Stands
        } else {
            Self::Unknown
        }
    }
}

/// A moment: bolt angle, rad, and position of the tool, m, both in the driving direction.
#[derive(Clone, Copy, Debug)]
struct Place {
    angle_rad: f32,
    advance_m: f32,
}

impl Place {
    /// Advance per turn since `from` as a part of the pitch, with its standard uncertainty.
    fn ratio_since(&self, from: &Self, pitch_m: f32) -> Option<(f32, f32)> {
        let straight_m = pitch_m * (self.angle_rad - from.angle_rad) / TAU;
        (straight_m > 0.0).then(|| {
            let ratio = (self.advance_m - from.advance_m) / straight_m;
            (ratio, WANDER_M / straight_m)
        })
    }
}

/// Follows the bolt on its way out.
#[derive(Clone, Copy, Debug, Default)]
pub struct Outward {
    first_rad: Option<f32>,
    start: Option<Place>,
    turn_start: Option<Place>,
    now: Option<Place>,
    last_turn: Option<(f32, f32)>,
}

impl Outward {
    /// Takes in a completed angle step.
    pub fn add(&mut self, step: &AngleStep, pitch_m: f32) {
        let Some(advance_m) = step.advance_m else {
            return;
        };
        let now = Place {
            angle_rad: step.angle_rad,
            advance_m,
        };
        if now.angle_rad - *self.first_rad.get_or_insert(now.angle_rad) < SEATS_RAD {
            return;
        }
        self.now = Some(now);
        self.start.get_or_insert(now);
        let turn_start = self.turn_start.get_or_insert(now);
        if now.angle_rad - turn_start.angle_rad >= TAU {
            self.last_turn = now.ratio_since(turn_start, pitch_m);
            *turn_start = now;
        }
    }

    /// What is told of the way since the socket sat. An arm whose figures are a little off swings the
    /// tool along the axis within a turn: so nothing is told within the first.
    pub fn since_start(&self, pitch_m: f32) -> Advance {
        let Some((now, start)) = self.now.zip(self.start) else {
            return Advance::Unknown;
        };
        match now.ratio_since(&start, pitch_m) {
            Some((ratio, u)) if now.angle_rad - start.angle_rad >= TAU => Advance::of(ratio, u),
            _ => Advance::Unknown,
        }
    }

    /// Whether an arm sees the bolt at all.
    pub fn is_seen(&self) -> bool {
        self.first_rad.is_some()
    }

    /// The ratio over the last whole turn, where it is told that the bolt stood.
    pub fn stood_for_a_turn(&self) -> Option<f32> {
        self.last_turn
            .filter(|(ratio, u)| Advance::of(*ratio, *u) == Advance::Stands)
            .map(|(ratio, _)| ratio)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PITCH_M: f32 = 1.5e-3;

    /// What is told after each tenth of a turn of a bolt that comes out by this part of its pitch; the
    /// tenths from which it is told first.
    fn told_from(ratio: f32) -> Option<(u32, Advance)> {
        let mut outward = Outward::default();
        (0..=15_u32).find_map(|tenths| {
            let angle_rad = 0.1 * TAU * tenths as f32;
            outward.add(
                &AngleStep {
                    angle_rad,
                    advance_m: Some(ratio * PITCH_M * angle_rad / TAU),
                    ..AngleStep::default()
                },
                PITCH_M,
            );
            let told = outward.since_start(PITCH_M);
            (told != Advance::Unknown).then_some((tenths, told))
        })
    }

    #[test]
    fn nothing_is_told_within_a_turn_from_where_the_socket_sits() {
        // It sits after 0.25 turns, that is with the third tenth.
        assert_eq!(told_from(0.0), Some((13, Advance::Stands)));
        assert_eq!(told_from(-2.0), Some((13, Advance::Stands)));
        assert_eq!(told_from(1.0), Some((13, Advance::BacksOut)));
        assert_eq!(told_from(2.0), Some((13, Advance::BacksOut)));
        assert_eq!(told_from(0.5), None);
    }
}
