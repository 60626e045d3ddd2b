//! A tool that has gone back and is free of the bolt, until the torque shows that the bolt turns again.
//!
//! A level that stands out of the noise is waited for (CUSUM), sample by sample. One that does not is
//! judged over the whole stretch afterwards, which costs nothing where torque is low. Where the bolt
//! began to turn again is told by geometry first: torque near the start of a stroke is that of joints
//! that start off as much as that of the bolt.

use super::geometry::{Catch, Geometry};
use super::motion::Effort;
use super::slack::{BINS, SlackSearch};
use super::strokes::RELEASE_RAD;
use crate::math::Limited;

/// CUSUM limit in standard deviations: with the gate midway, a false join needs exp(−12).
const CUSUM_LIMIT: f32 = 12.0;
/// The gate lies this part of the level below it, for friction that varies along the thread.
const GATE_PART: f32 = 0.15;
/// A level is high above so many standard deviations of one sample ...
const HIGH_NOISES: f32 = 6.0;
/// ... and so many standard uncertainties of what does not average out: joint friction changes with
/// speed and gravity with position, and both look like a rise.
const HIGH_SYSTEMATICS: f32 = 5.0;
/// What still counts as resisting: this part of the level ...
const RESISTING_PART: f32 = 0.1;
/// ... and so many standard uncertainties of what does not average out.
const RESISTING_SYSTEMATICS: f32 = 2.0;

/// What the tool last did while it drove.
#[derive(Clone, Copy, Debug)]
pub(super) struct Driven {
    /// Tool angle less wind-up at which the bolt last turned, rad.
    pub mark_rad: f32,
    /// Torque with which it did, N·m.
    pub level_nm: f32,
    /// Whether the bolt may have given up its torque since.
    pub gives_way: bool,
}

/// Where and how a stroke was joined.
#[derive(Clone, Copy, Debug)]
pub(super) struct Join {
    pub start_rad: f32,
    pub variance: f32,
    /// Standard uncertainty that is alike in every stroke, rad.
    pub open_rad: f32,
    pub stretch_torque_nm: Option<f32>,
    /// The level from now on where it is not that of the stroke before, N·m.
    pub level_nm: Option<f32>,
}

impl Join {
    fn at(start_rad: f32, variance: f32) -> Self {
        Self {
            start_rad,
            variance,
            open_rad: 0.0,
            stretch_torque_nm: None,
            level_nm: None,
        }
    }

    fn caught(catch: &Catch) -> Self {
        Self {
            open_rad: catch.open_rad,
            ..Self::at(catch.start_rad, Catch::VARIANCE)
        }
    }
}

/// State of a tool that is free of the bolt, as far as torque tells.
#[derive(Clone, Copy, Debug)]
pub(super) struct Free {
    search: SlackSearch,
    /// Furthest tool angle since it last turned round, rad.
    pub furthest_rad: f32,
    cusum: f32,
    cusum_start_rad: f32,
    resisting_from_rad: Option<f32>,
    /// Where it last did not resist, as far as that can be told.
    free_until_rad: f32,
    /// The first engagement of the run: half the play is to be expected, no tooth.
    first: bool,
    /// Least of the uncertainties seen: that of a steadily moving arm.
    least_systematic_nm: f32,
}

impl Free {
    pub fn new(window_rad: f32) -> Self {
        Self {
            search: SlackSearch::new(0.0, window_rad),
            furthest_rad: 0.0,
            cusum: 0.0,
            cusum_start_rad: 0.0,
            resisting_from_rad: None,
            free_until_rad: 0.0,
            first: true,
            least_systematic_nm: f32::MAX,
        }
    }

    pub fn restart(&mut self, at_rad: f32, first: bool) {
        self.search.restart(at_rad);
        self.furthest_rad = at_rad;
        self.cusum = 0.0;
        self.cusum_start_rad = at_rad;
        self.resisting_from_rad = None;
        self.free_until_rad = at_rad;
        self.first = first;
    }

    /// Where the bolt began to turn again, if it has. `smooth_nm` is the torque evened out.
    pub fn rejoin(
        &mut self,
        geometry: &mut Geometry,
        driven: &Driven,
        at_rad: f32,
        effort: &Effort,
        smooth_nm: f32,
    ) -> Option<Join> {
        if at_rad < self.search.from_rad() {
            self.restart(at_rad, self.first);
            return None;
        }
        let step_rad = at_rad - self.furthest_rad;
        if step_rad > 0.0 {
            self.furthest_rad = at_rad;
            // Near standstill joint friction is undetermined: such samples hardly count.
            self.least_systematic_nm = self.least_systematic_nm.at_most(effort.systematic_u_nm);
            let sureness = (self.least_systematic_nm.at_least(effort.noise_nm))
                / effort
                    .systematic_u_nm
                    .at_least(effort.noise_nm)
                    .at_least(1e-9);
            self.search
                .add(at_rad, step_rad, effort.torque_nm, sureness * sureness);
        }
        let high =
            (HIGH_NOISES * effort.noise_nm).at_least(HIGH_SYSTEMATICS * effort.systematic_u_nm);
        if driven.level_nm > high {
            return self.regain(geometry, driven, at_rad, effort, smooth_nm);
        }
        let travel_rad = self.travel_rad();
        let back = at_rad < self.furthest_rad - RELEASE_RAD;
        let least = geometry.slack(self.first).usual_rad + RELEASE_RAD;
        // A torque before that is none of the bolt's: the arm starts off, and its inertia is not
        // known at once.
        let rises = smooth_nm > high && (self.first || travel_rad >= geometry.sure_rad);
        (travel_rad > geometry.window_rad || rises || (back && travel_rad > least))
            .then(|| self.judge_stretch(geometry, driven))
    }

    fn travel_rad(&self) -> f32 {
        self.furthest_rad - self.search.from_rad()
    }

    fn catch(&self, geometry: &Geometry, driven: &Driven) -> Option<Catch> {
        let from_rad = self.search.from_rad();
        let catch = geometry.catch(driven.mark_rad, from_rad);
        catch.filter(|_| !self.first)
    }

    /// The high level: the torque must come back to where the bolt last turned.
    fn regain(
        &mut self,
        geometry: &mut Geometry,
        driven: &Driven,
        at_rad: f32,
        effort: &Effort,
        smooth_nm: f32,
    ) -> Option<Join> {
        let noise = effort.noise_nm.at_least(1e-6);
        let gate = driven.level_nm - (GATE_PART * driven.level_nm).at_least(3.0 * noise);
        self.cusum += (effort.torque_nm - gate) / noise;
        let surely_free = !self.first && at_rad - self.search.from_rad() < geometry.sure_rad;
        if self.cusum <= 0.0 || surely_free {
            self.cusum = 0.0;
            self.cusum_start_rad = at_rad;
        } else if self.cusum > CUSUM_LIMIT && at_rad >= self.furthest_rad {
            return Some(self.regained(geometry, driven));
        }
        let resisting_nm = (RESISTING_PART * driven.level_nm)
            .at_least(noise)
            .at_least(RESISTING_SYSTEMATICS * effort.systematic_u_nm);
        if smooth_nm < resisting_nm {
            self.resisting_from_rad = None;
            self.free_until_rad = at_rad;
            return (driven.gives_way && self.travel_rad() > geometry.window_rad).then(|| Join {
                level_nm: Some(smooth_nm),
                ..self.judge_stretch(geometry, driven)
            });
        }
        let from = *self.resisting_from_rad.get_or_insert(at_rad);
        let later = geometry.slack(false);
        if at_rad - from < later.most_rad {
            return None;
        }
        let join = match self.catch(geometry, driven) {
            // Before its catch a ratchet drags, while a socket turns freely.
            Some(catch) if geometry.ratchet || from > catch.start_rad || catch.is_at(from) => {
                Join::caught(&catch)
            }
            _ => Join::at(from, later.variance),
        };
        Some(Join {
            stretch_torque_nm: Some(self.search.mean_after_nm(join.start_rad)),
            level_nm: Some(smooth_nm),
            ..join
        })
    }

    /// The torque has come back. Friction varies along the thread, so that it may pass the gate later
    /// than the tool caught; then it has resisted since.
    fn regained(&self, geometry: &mut Geometry, driven: &Driven) -> Join {
        let seen_rad = self.cusum_start_rad;
        let Some(catch) = self.catch(geometry, driven) else {
            return Join::at(seen_rad, Catch::VARIANCE);
        };
        if let Some(shown) = geometry.shown(&catch, seen_rad) {
            return Join::caught(&shown);
        }
        let resisted = self.free_until_rad < catch.start_rad || catch.is_at(self.free_until_rad);
        if resisted && catch.start_rad < seen_rad {
            Join {
                stretch_torque_nm: Some(self.search.mean_after_nm(catch.start_rad)),
                ..Join::caught(&catch)
            }
        } else {
            Join::at(seen_rad, Catch::VARIANCE)
        }
    }

    /// The low level: takes the catch that geometry tells; without one splits the stretch by torque, or
    /// else takes the usual slack.
    fn judge_stretch(&self, geometry: &mut Geometry, driven: &Driven) -> Join {
        let from_rad = self.search.from_rad();
        let slack = *geometry.slack(self.first);
        let split = self.search.split((slack.least_rad, slack.most_rad));
        let sure = split.clear() && split.rise_nm > HIGH_SYSTEMATICS * self.least_systematic_nm;
        let bin = geometry.window_rad / BINS as f32;
        let split_variance = bin * bin / 12.0;
        let join = match self.catch(geometry, driven) {
            Some(catch) if sure => match geometry.shown(&catch, split.at_rad) {
                Some(shown) => Join::caught(&shown),
                // A torque that rises elsewhere is that of the joint by now, or geometry is not as
                // stated: anywhere between them with equal right.
                None => {
                    let apart_rad = split.at_rad - catch.start_rad;
                    Join {
                        variance: Catch::VARIANCE + apart_rad * apart_rad / 12.0,
                        ..Join::caught(&catch)
                    }
                }
            },
            Some(catch) => Join::caught(&catch),
            None if split.clear() && !self.first => {
                geometry.learn_slack(split.at_rad - from_rad);
                Join::at(split.at_rad, split_variance)
            }
            None if sure => Join::at(split.at_rad, split_variance),
            None => Join::at(from_rad + slack.usual_rad, slack.variance),
        };
        // A torque that rose before the slack was gone shows that it was less than expected.
        let start_rad = join.start_rad.at_most(self.furthest_rad);
        Join {
            start_rad,
            stretch_torque_nm: Some(self.search.mean_after_nm(start_rad)),
            ..join
        }
    }
}
