//! The torque of an undoing run over single steps: its peak, how it fell from it, and peaks that are too
//! short for a mean.

use super::grips::APART_RAD;
use crate::curve::AngleStep;

/// A spike reaches this part of the highest torque of a step, ...
pub const SPIKE_PART: f32 = 0.5;
/// ... so many standard deviations of the noise of a step, ...
const SPIKE_NOISES: f32 = 8.0;
/// ... and comes after the same angle as the one before, within this part of it (common practice, no
/// source: rounded seats move by a few degrees of 60°).
const UNEVEN_PART: f32 = 0.15;
/// A fall is taken from this part of the highest torque, step by step, ...
const TOP_PART: f32 = 0.9;
/// ... to this part.
pub const FALLEN_PART: f32 = 0.2;
/// Part by which it can be told how fast it falls: what jerks between sticking and slipping by a fifth up
/// and down does not fall from nine tenths to this without having lost a third for good.
pub const HALFWAY_PART: f32 = 0.4;
/// The same over the way to [`FALLEN_PART`], of an even fall.
pub const HALFWAY_OF_FALL: f32 = (TOP_PART - HALFWAY_PART) / (TOP_PART - FALLEN_PART);

/// Peaks of single steps after the torque had fallen: the seats of a head under a stiff tool come and
/// go within a degree, always as far apart.
#[derive(Clone, Copy, Debug, Default)]
pub struct Spikes {
    fallen: bool,
    last_rad: Option<f32>,
    apart_rad: Option<f32>,
    even: bool,
}

impl Spikes {
    /// Takes in a step: whether the torque has fallen, or is up, and its bolt angle, rad.
    pub fn follow(&mut self, fallen: bool, up: bool, at_rad: f32) {
        if fallen {
            self.fallen = true;
        } else if up && !self.fallen {
            // The same peak still.
            self.last_rad = Some(at_rad);
        } else if up {
            self.fallen = false;
            let Some(last_rad) = self.last_rad.replace(at_rad) else {
                return;
            };
            let apart_rad = at_rad - last_rad;
            let before_rad = self.apart_rad.replace(apart_rad);
            self.even |= apart_rad >= APART_RAD
                && before_rad.is_some_and(|b| (apart_rad - b).abs() <= UNEVEN_PART * b);
        }
    }

    /// Whether two in a row came after the same angle, within what wear moves the seats.
    pub fn even(&self) -> bool {
        self.even
    }
}

/// How the torque has fallen from its highest.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fall {
    /// Least angle over which the torque had held its highest before it, rad: both ends are known to a step.
    pub held_rad: f32,
    /// Angle that it took, rad.
    pub over_rad: f32,
    /// What it may have taken more, rad: a step at each end, and what the wind-up of the tool leaves open.
    pub over_u_rad: f32,
    /// Angle since then, rad.
    pub since_rad: f32,
}

/// The highest torque so far, and the fall from it.
#[derive(Clone, Copy, Debug, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Peak {
    /// It, N·m.
    pub nm: f32,
    /// Torque of the last step, N·m.
    pub now_nm: f32,
    /// First torque of a step within the top part of the highest, N·m, and its angle, rad.
    reached: (f32, f32),
    /// Whether it has let go since.
    let_go: bool,
    top_rad: f32,
    fallen_rad: Option<f32>,
    halfway_rad: Option<f32>,
    /// Bolt angle of the last stop, rad: none before the first.
    stop_rad: Option<f32>,
    since_stop_rad: f32,
    end_rad: f32,
    /// Widest step from where it was reached to the fall, rad.
    widest_rad: f32,
    /// Standard uncertainty of the bolt angle at the top, rad.
    top_u_rad: f32,
}

impl Peak {
    /// Takes in a completed step and the standard uncertainty of its bolt angle, rad.
    pub fn follow(&mut self, step: &AngleStep, angle_u_rad: f32) {
        self.now_nm = step.torque_nm.max(0.0);
        if step.since_stop_rad < self.since_stop_rad {
            self.stop_rad = Some(step.end_rad - step.since_stop_rad);
        }
        self.since_stop_rad = step.since_stop_rad;
        self.end_rad = step.end_rad;
        self.nm = self.nm.max(self.now_nm);
        // What lay between two grips did not hold.
        self.let_go |= self.halfway_rad.is_some();
        let came_back = self.let_go && self.now_nm >= TOP_PART * self.nm;
        if came_back || self.reached.0 < TOP_PART * self.nm {
            self.reached = (self.now_nm, step.end_rad);
            self.widest_rad = 0.0;
            self.let_go = false;
        }
        if self.now_nm >= TOP_PART * self.nm {
            self.top_rad = step.end_rad;
            self.top_u_rad = angle_u_rad;
        }
        if self.fallen_rad.is_none() {
            self.widest_rad = self.widest_rad.max(step.width_rad);
        }
        let (fallen, halfway) = (self.is_fallen(), self.now_nm <= HALFWAY_PART * self.nm);
        for (at_rad, below) in [
            (&mut self.fallen_rad, fallen),
            (&mut self.halfway_rad, halfway),
        ] {
            if !below {
                *at_rad = None;
            } else {
                at_rad.get_or_insert(step.end_rad);
            }
        }
    }

    /// Whether the last step lies low below it.
    pub fn is_fallen(&self) -> bool {
        self.now_nm <= FALLEN_PART * self.nm
    }

    /// Whether the last step would count as a peak again, with this noise, N·m.
    pub fn is_spike(&self, noise_nm: f32) -> bool {
        self.now_nm >= (SPIKE_PART * self.nm).max(SPIKE_NOISES * noise_nm)
    }

    fn held_rad(&self) -> f32 {
        (self.top_rad - self.reached.1 - 2.0 * self.widest_rad).max(0.0)
    }

    fn over_u_rad(&self) -> f32 {
        2.0 * (self.widest_rad + self.top_u_rad)
    }

    /// The last fall from the highest torque; `None` while the torque has not fallen or has come
    /// back.
    pub fn fall(&self) -> Option<Fall> {
        self.fallen_rad.map(|fallen| Fall {
            held_rad: self.held_rad(),
            over_rad: fallen - self.top_rad,
            over_u_rad: self.over_u_rad(),
            since_rad: self.end_rad - fallen,
        })
    }

    /// The same to more than half of its way, where it went there in one go.
    pub fn halfway(&self) -> Option<Fall> {
        let one_go = self.stop_rad.is_none_or(|stop| stop < self.top_rad);
        let halfway = self.halfway_rad.filter(|_| one_go)?;
        Some(Fall {
            held_rad: self.held_rad(),
            over_rad: halfway - self.top_rad,
            over_u_rad: self.over_u_rad(),
            since_rad: self.end_rad - halfway,
        })
    }
}
