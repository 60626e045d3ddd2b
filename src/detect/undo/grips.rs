//! The torque of an undoing run as a story of grips: how high it has been, where it has let go and
//! climbed again, and for how long it has lain quiet.
//!
//! What it rests on: a bolt that is undone is broken loose once. Its preload, and with it the torque,
//! can then only fall, and what is left is the drag of the thread. A drive that slips over the head
//! lets go and grips again, once a seat of the head, and never has broken anything loose.

use super::super::clamp::RESTART_RAD;
use crate::curve::AngleStep;
use crate::math::sqrt;

use super::peak::{Peak, Spikes};
use super::{QUARTER_RAD, SEAT_RAD};

/// Angle over which the torque is averaged, rad (5°): noise and grain drop out, a seat does not.
const MEAN_RAD: f32 = 0.087;
/// A turn-round of the torque counts from this part of the highest torque on, ...
const TURN_PART: f32 = 0.1;
/// ... so many standard deviations of its white noise, ...
const TURN_NOISES: f32 = 4.0;
/// ... and so many standard uncertainties of what does not average out: joint friction changes by
/// about as much with speed.
const TURN_SYSTEMATICS: f32 = 1.0;
/// Grips that are closer than this are one, rad (20°): the closest seats are 30° apart (a twelve-point
/// socket on a hexagon), and wear moves them. A tool that still settles into the head is no slip.
pub const APART_RAD: f32 = 0.35;
/// A thread that is loose takes at most this part of the torque that broke it loose. A locking nut
/// takes up to 0.35 of a usual target (ISO 2320 against 8.8), and at the same friction a joint
/// breaks loose at 0.65 to 0.8 of its tightening torque: 0.35/0.7.
pub const LOOSE_PART: f32 = 0.5;
/// A loose thread swings by less than this part of the highest torque: ±20 % grain (common practice,
/// no source) of the part above.
const QUIET_PART: f32 = 0.2;
/// Below this part of the highest torque it counts as gone.
const GONE_PART: f32 = 0.05;
/// Above this part of the highest torque it counts as level with it.
const HELD_PART: f32 = 0.75;

/// A climb after the torque had let go.
#[derive(Clone, Copy, Debug)]
struct Climb {
    from_nm: f32,
    /// Highest torque before it: what lies above has not been needed yet and counts as no re-grip.
    record_nm: f32,
    previous_top_rad: f32,
}

#[derive(Clone, Copy, Debug)]
enum Way {
    Up {
        top_nm: f32,
        top_rad: f32,
        climb: Option<Climb>,
    },
    Down {
        top_rad: f32,
        lowest_nm: f32,
    },
}

/// A stretch over which the torque stays low and level.
#[derive(Clone, Copy, Debug)]
struct Quiet {
    from_rad: f32,
    low_nm: f32,
    high_nm: f32,
}

/// Gathers steps to a mean.
#[derive(Clone, Copy, Debug, Default)]
struct Gather {
    width_rad: f32,
    torque: f32,
    noise_square: f32,
    systematic: f32,
}

/// The story so far, in the driving direction. Angles are bolt angles since the start, rad.
#[derive(Clone, Copy, Debug)]
pub struct Grips {
    gather: Gather,
    way: Way,
    contact_rad: Option<f32>,
    largest_nm: f32,
    second_nm: f32,
    sum_nm: f32,
    quiet: Option<Quiet>,
    held_from_rad: Option<f32>,
    dragged_from_rad: Option<f32>,
    /// Torque over the last 5°, N·m; never below 0, where the tool is slowed down and no bolt undone.
    pub torque_nm: f32,
    /// Its standard uncertainty, N·m.
    pub torque_u_nm: f32,
    /// Bolt angle at its end.
    pub angle_rad: f32,
    /// Highest torque so far, N·m.
    pub highest_nm: f32,
    /// The same over single steps: a peak is narrower than the mean.
    pub peak: Peak,
    /// Grips too short for a mean.
    pub spikes: Spikes,
}

impl Default for Grips {
    fn default() -> Self {
        Self {
            gather: Gather::default(),
            way: Way::Up {
                top_nm: 0.0,
                top_rad: 0.0,
                climb: None,
            },
            contact_rad: None,
            largest_nm: 0.0,
            second_nm: 0.0,
            sum_nm: 0.0,
            quiet: None,
            held_from_rad: None,
            dragged_from_rad: None,
            torque_nm: 0.0,
            torque_u_nm: 0.0,
            angle_rad: 0.0,
            highest_nm: 0.0,
            peak: Peak::default(),
            spikes: Spikes::default(),
        }
    }
}

impl Grips {
    /// Takes in a completed angle step and the standard uncertainty of its bolt angle, rad.
    pub fn add(&mut self, step: &AngleStep, angle_u_rad: f32) {
        if !step.observable {
            return;
        }
        self.peak.follow(step, angle_u_rad);
        // A tool that sets in again may knock.
        if step.since_stop_rad >= RESTART_RAD {
            let (fallen, up) = (self.peak.is_fallen(), self.peak.is_spike(step.noise_nm));
            self.spikes.follow(fallen, up, step.end_rad);
        }
        let (w, gather) = (step.width_rad, &mut self.gather);
        gather.width_rad += w;
        gather.torque += w * step.torque_nm;
        gather.noise_square += w * w * step.noise_nm * step.noise_nm;
        gather.systematic += w * step.systematic_u_nm;
        if !(gather.width_rad >= MEAN_RAD) {
            return;
        }
        let per = 1.0 / gather.width_rad;
        let noise = sqrt(gather.noise_square) * per;
        let systematic = gather.systematic * per;
        self.torque_nm = (gather.torque * per).max(0.0);
        self.torque_u_nm = sqrt(noise * noise + systematic * systematic);
        self.angle_rad = step.end_rad;
        self.gather = Gather::default();
        let least = (TURN_NOISES * noise).max(TURN_SYSTEMATICS * systematic);
        self.follow(least);
    }

    fn follow(&mut self, least_nm: f32) {
        let (now_nm, at_rad) = (self.torque_nm, self.angle_rad);
        let turn_nm = least_nm.max(TURN_PART * self.highest_nm.max(now_nm));
        self.way = match self.way {
            Way::Up {
                top_nm,
                top_rad,
                climb,
            } if now_nm < top_nm - turn_nm => {
                self.count(counted_nm(top_nm, top_rad, climb));
                Way::Down {
                    top_rad,
                    lowest_nm: now_nm,
                }
            }
            Way::Up {
                top_nm,
                top_rad,
                climb,
            } => {
                let higher = now_nm > top_nm;
                Way::Up {
                    top_nm: top_nm.max(now_nm),
                    top_rad: if higher { at_rad } else { top_rad },
                    climb,
                }
            }
            Way::Down { top_rad, lowest_nm } if now_nm > lowest_nm + turn_nm => Way::Up {
                top_nm: now_nm,
                top_rad: at_rad,
                climb: Some(Climb {
                    from_nm: lowest_nm,
                    record_nm: self.highest_nm,
                    previous_top_rad: top_rad,
                }),
            },
            Way::Down { top_rad, lowest_nm } => Way::Down {
                top_rad,
                lowest_nm: lowest_nm.min(now_nm),
            },
        };
        self.highest_nm = self.highest_nm.max(now_nm);
        if self.highest_nm > least_nm {
            self.contact_rad.get_or_insert(at_rad);
        }
        self.follow_level();
    }

    fn follow_level(&mut self) {
        let (now_nm, at_rad) = (self.torque_nm, self.angle_rad);
        self.quiet =
            (self.contact_rad.is_some() && now_nm < LOOSE_PART * self.highest_nm).then(|| {
                let new = Quiet {
                    from_rad: at_rad,
                    low_nm: now_nm,
                    high_nm: now_nm,
                };
                let longer = self.quiet.map_or(new, |quiet| Quiet {
                    low_nm: quiet.low_nm.min(now_nm),
                    high_nm: quiet.high_nm.max(now_nm),
                    ..quiet
                });
                if longer.high_nm - longer.low_nm > QUIET_PART * self.highest_nm {
                    new
                } else {
                    longer
                }
            });
        if now_nm >= HELD_PART * self.highest_nm {
            self.held_from_rad.get_or_insert(at_rad);
        } else {
            self.held_from_rad = None;
        }
        if now_nm > LOOSE_PART * self.highest_nm {
            self.dragged_from_rad.get_or_insert(at_rad);
        } else {
            self.dragged_from_rad = None;
        }
    }

    fn count(&mut self, climb_nm: f32) {
        self.sum_nm += climb_nm;
        self.second_nm = self.second_nm.max(climb_nm.min(self.largest_nm));
        self.largest_nm = self.largest_nm.max(climb_nm);
    }

    /// The climb that goes on, N·m; 0 while the torque falls.
    fn rising_nm(&self) -> f32 {
        match self.way {
            Way::Up {
                top_nm,
                top_rad,
                climb,
            } => counted_nm(top_nm, top_rad, climb),
            Way::Down { .. } => 0.0,
        }
    }

    /// Second highest climb of the torque after it had let go, N·m: 0 until it has gripped anew
    /// twice.
    pub fn second_regrip_nm(&self) -> f32 {
        self.second_nm.max(self.rising_nm().min(self.largest_nm))
    }

    /// Sum of all climbs after it had let go, N·m.
    pub fn regrips_nm(&self) -> f32 {
        self.sum_nm + self.rising_nm()
    }

    /// Bolt angle since the torque stood out of its uncertainty for the first time.
    pub fn since_contact_rad(&self) -> f32 {
        self.contact_rad.map_or(0.0, |at| self.angle_rad - at)
    }

    /// Bolt angle over which the torque has lain low and level.
    pub fn quiet_rad(&self) -> f32 {
        self.quiet
            .map_or(0.0, |quiet| self.angle_rad - quiet.from_rad)
    }

    /// Bolt angle over which the torque has stayed up.
    pub fn held_rad(&self) -> f32 {
        self.held_from_rad.map_or(0.0, |from| self.angle_rad - from)
    }

    /// Bolt angle over which it has stayed higher than a loose thread can take.
    pub fn dragged_rad(&self) -> f32 {
        let from = self.dragged_from_rad;
        from.map_or(0.0, |from| self.angle_rad - from)
    }

    /// Whether no drag of a thread is felt: the torque has gone, or is lost in its uncertainty.
    pub fn is_idle(&self) -> bool {
        self.torque_nm <= (GONE_PART * self.peak.nm).max(2.0 * self.torque_u_nm)
    }

    /// Whether the torque has lain low and level for longer than any drive takes to grip again:
    /// a quarter turn (a cross recess has the fewest seats, four) and a third of it.
    pub fn quiet(&self) -> bool {
        self.quiet_rad() >= QUARTER_RAD + QUARTER_RAD / 3.0
    }

    /// Whether it may be about to be so: for one seat of six it has lain quiet.
    pub fn growing_quiet(&self) -> bool {
        self.quiet_rad() >= SEAT_RAD
    }
}

/// What of a climb up to `top_nm` was a re-grip, N·m.
fn counted_nm(top_nm: f32, top_rad: f32, climb: Option<Climb>) -> f32 {
    climb.map_or(0.0, |climb| {
        if top_rad - climb.previous_top_rad >= APART_RAD {
            (top_nm.min(climb.record_nm) - climb.from_nm).max(0.0)
        } else {
            0.0
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Grips after a turn by steps of 1° with the torque of each.
    fn turned(until_deg: u32, torque_nm: impl Fn(f32) -> f32) -> Grips {
        let mut grips = Grips::default();
        for deg in 1..=until_deg {
            let end_rad = (deg as f32).to_radians();
            let step = AngleStep {
                angle_rad: end_rad - 0.5_f32.to_radians(),
                end_rad,
                width_rad: 1.0_f32.to_radians(),
                torque_nm: torque_nm(deg as f32),
                noise_nm: 0.05,
                systematic_u_nm: 0.1,
                observable: true,
                since_stop_rad: end_rad,
                ..AngleStep::default()
            };
            grips.add(&step, 0.0);
        }
        grips
    }

    #[test]
    fn a_bolt_drags_from_where_its_torque_stays_above_half_of_the_highest() {
        let dragged_deg = |until_deg, torque_nm: fn(f32) -> f32| {
            turned(until_deg, torque_nm).dragged_rad().to_degrees()
        };
        // 30 N·m, then 16: more than half, from the first mean of 5° on.
        let level = |deg: f32| if deg <= 20.0 { 30.0 } else { 16.0 };
        assert!((dragged_deg(200, level) - 195.0).abs() < 0.1);
        // 14 N·m are less, and what lets go for 10° begins anew.
        let low = |deg: f32| if deg <= 20.0 { 30.0 } else { 14.0 };
        assert_eq!(dragged_deg(200, low), 0.0);
        let let_go = |deg: f32| {
            if (90.0..=100.0).contains(&deg) {
                2.0
            } else {
                16.0
            }
        };
        assert!((dragged_deg(200, let_go) - 95.0).abs() < 0.1);
    }
}
