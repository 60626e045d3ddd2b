//! Joins the strokes of a wrist or a ratchet into one bolt angle.
//!
//! The bolt is turning only while it resists as it last did. While the tool drives, the bolt angle
//! follows the high-water mark of the tool angle less wind-up, so pauses and wind-up add nothing.
//! Once the tool has gone back, it is free: slack, the return stroke and re-seating add nothing
//! until the torque shows that the bolt turns again.
//!
//! | from | condition | to |
//! |---|---|---|
//! | driving | tool behind its mark by more than [`RELEASE_RAD`], and the tool can re-seat | free |
//! | free, level high | torque regains the gate (CUSUM): counts from where it first passed it | driving |
//! | free, level high | torque below the gate but resisting over more than the slack: the bolt resists less than it did | driving |
//! | free, level high, and the bolt may give way | no torque over the slack and more: as with a low level | driving |
//! | free, level low | travel beyond the slack, or the tool goes back, or torque rises high: counts from the best split of the stretch | driving |
//! | either | nothing can turn the bolt (arm locked, tool let go): [`StrokeJoiner::pause`] | as before; free if the tool was let go |
//!
//! A low level cannot be told from a free tool sample by sample; it is judged over the whole
//! stretch afterwards, which costs nothing where torque is low. Where the level is lost in the
//! friction of the joints, geometry tells it: a ratchet catches only at whole teeth from where it
//! last drove, a socket that was lifted off only at whole seats of the head.
//!
//! Bounded: a constant number of operations, and where a stretch is judged two passes over its bins.

use super::slack::{BINS, SlackSearch};
use crate::math::floor;

/// Fall of the tool angle behind its mark that counts as having gone back (0.5°).
pub const RELEASE_RAD: f32 = 0.0087;

/// Slack reckoned with where none is stated (12°: a 30-tooth ratchet).
const UNKNOWN_SLACK_RAD: f32 = 0.21;
/// Margin on stated slack (1.5°), and as a part of it.
const SLACK_MARGIN_RAD: f32 = 0.026;
const SLACK_MARGIN_PART: f32 = 0.15;
/// Travel that is looked at beyond the slack (5°), and as a part of it.
const BEYOND_RAD: f32 = 0.087;
const BEYOND_PART: f32 = 0.5;
/// Angle over which the resisting level is averaged while driving (1.5°).
const LEVEL_RAD: f32 = 0.026;
/// CUSUM limit in standard deviations: with the gate midway, a false join needs exp(−12).
const CUSUM_LIMIT: f32 = 12.0;
/// The gate lies this part of the level below it, for friction that varies along the thread.
const GATE_PART: f32 = 0.15;
/// A level is high above so many standard deviations of one sample ...
const HIGH_NOISES: f32 = 6.0;
/// ... and so many standard uncertainties of what does not average out.
const HIGH_SYSTEMATICS: f32 = 5.0;
/// Part of the level that still counts as resisting.
const RESISTING_PART: f32 = 0.1;
/// Smoothing of the torque that wind-up is computed from, one sample's share.
const SMOOTHING: f32 = 0.25;
/// Bolt turn allowed for each turn of the tool.
const UNWINDING: f32 = 2.0;
/// A split this many standard errors clear is believed against the catch that geometry tells ...
const SURE_SIGMA: f32 = 10.0;
/// ... if the torque rises by so many standard uncertainties of what does not average out: joint
/// friction changes with speed and gravity with position, and both look like a rise.
const SURE_SYSTEMATICS: f32 = 2.0;
/// So far from a catch a split still means that catch (1°): play is stated no better than that.
const CATCH_RAD: f32 = 0.0175;
/// Standard uncertainty of a catch (0.1°).
const CATCH_U_RAD: f32 = 0.001_75;
/// Part of the stated play that every stroke of a ratchet surely goes through, less a margin.
const SURE_PLAY: f32 = 0.8;
/// Relative standard uncertainty taken for a stated wind-up stiffness.
const WINDUP_U: f32 = 0.1;
/// Compliance up to which an unstated wind-up is reckoned with, rad/(N·m).
const UNKNOWN_COMPLIANCE: f32 = 1.0e-3;

/// What is known of the tool between the measured angle and the bolt head.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JoinConfig {
    /// Torsional stiffness, N·m/rad.
    pub windup_nm_per_rad: Option<f32>,
    /// Angle of a ratchet tooth, rad; `None` or 0: no ratchet.
    pub tooth_rad: Option<f32>,
    /// Angle between two seats of the socket on the head, rad.
    pub seat_rad: f32,
    /// Free angle between socket and head, rad.
    pub play_rad: Option<f32>,
    /// Whether the tool can leave the head and come back at another angle. `false` for a powered
    /// spindle.
    pub reseats: bool,
    /// Whether the bolt may have given up its torque from one stroke to the next, as one that is
    /// undone does. If not, a tool without torque is off the bolt.
    pub gives_way: bool,
}

/// What one sample did to the bolt.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Motion {
    /// Bolt angle since the start of the run, rad, driving direction positive.
    pub bolt_rad: f32,
    /// By how much it grew at this sample, rad, never negative.
    pub progress_rad: f32,
    /// Set when a stroke was joined at this sample.
    pub joined: bool,
    /// Where the growth covers a stretch that was judged afterwards: its mean torque, N·m.
    pub stretch_torque_nm: Option<f32>,
}

/// Torque of one sample, driving direction.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Effort {
    /// Torque, N·m.
    pub torque_nm: f32,
    /// Its white noise, N·m.
    pub noise_nm: f32,
    /// The part of its uncertainty that does not average out, N·m.
    pub systematic_u_nm: f32,
}

/// State of a tool that is free of the bolt, as far as torque tells.
#[derive(Clone, Copy, Debug)]
struct Free {
    search: SlackSearch,
    /// Furthest tool angle since it last turned round, rad.
    furthest_rad: f32,
    cusum: f32,
    cusum_start_rad: f32,
    resisting_from_rad: Option<f32>,
    /// The first engagement of the run: half the play is to be expected, no tooth.
    first: bool,
}

/// Where and how a stroke was joined.
struct Join {
    start_rad: f32,
    variance: f32,
    stretch_torque_nm: Option<f32>,
}

/// Why nothing can turn the bolt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Pause {
    /// The arm is locked with the tool in its gripper.
    Locked,
    /// The tool is not in the gripper.
    Released,
}

/// Since when nothing can turn the bolt.
#[derive(Clone, Copy, Debug)]
struct Away {
    /// Tool angle at the first such sample, rad.
    at_rad: f32,
    released: bool,
}

/// Where geometry says that ratchet or socket caught.
struct Catch {
    start_rad: f32,
    variance: f32,
}

/// The stroke joiner. Feed it tool angle and torque in the driving direction.
#[derive(Clone, Copy, Debug)]
pub struct StrokeJoiner {
    compliance: f32,
    compliance_u: f32,
    /// Largest slack of a stroke, and the travel that is looked at for its end.
    bound_rad: f32,
    window_rad: f32,
    /// Angle between two catches of ratchet or socket; `None` where nothing is known of them.
    catch_rad: Option<f32>,
    play_rad: f32,
    /// Travel before which a tool that has gone back surely does not turn the bolt.
    sure_rad: f32,
    /// Slack that is surely there, what is to be expected, and its variance.
    least_slack_rad: f32,
    expected_slack_rad: f32,
    slack_variance: f32,
    /// The same for the first engagement, which has no tooth in it.
    first_bound_rad: f32,
    first_slack_rad: f32,
    /// Least of the uncertainties seen: that of a steadily moving arm.
    least_systematic_nm: f32,
    reseats: bool,
    gives_way: bool,

    /// Whether the tool turns the bolt; else it is free.
    driving: bool,
    free: Free,
    started: bool,
    bolt_rad: f32,
    bolt_variance: f32,
    /// Tool angle less wind-up at which the bolt last turned.
    mark_rad: f32,
    /// Tool angle at which it last turned, and at which the torque last stood at its level.
    tool_mark_rad: f32,
    resisted_rad: f32,
    level_nm: f32,
    smooth_nm: f32,
    clear_joins: u32,
    /// Tool angle of the last sample whose torque was unknown, and the travel with such samples.
    held_at_rad: Option<f32>,
    unseen_rad: f32,
    /// Set while nothing can turn the bolt.
    away: Option<Away>,
    /// Tool travel that was not the bolt's and is taken off the tool angle, rad.
    cut_rad: f32,
}

impl StrokeJoiner {
    /// From what is known of the tool.
    pub fn new(config: &JoinConfig) -> Self {
        let compliance = config
            .windup_nm_per_rad
            .filter(|k| *k > 0.0)
            .map(|k| 1.0 / k);
        let known = config.tooth_rad.is_some() || config.play_rad.is_some();
        let tooth = config.tooth_rad.unwrap_or(0.0);
        let play = config.play_rad.unwrap_or(0.0);
        let bound_rad = if known {
            let slack = (tooth + play) * (1.0 + SLACK_MARGIN_PART) + SLACK_MARGIN_RAD;
            // A socket off the head may turn past its seat before it finds it.
            if tooth > 0.0 {
                slack
            } else {
                slack.max(0.5 * config.seat_rad)
            }
        } else {
            UNKNOWN_SLACK_RAD
        };
        // A ratchet goes through all the play, then catches anywhere within a tooth; a socket that
        // was lifted lands anywhere within the play.
        let expected_slack_rad = if tooth > 0.0 {
            0.5 * tooth + play
        } else {
            0.5 * play
        };
        let spread = if known {
            tooth + play
        } else {
            UNKNOWN_SLACK_RAD
        };
        let window_rad = bound_rad + BEYOND_RAD.max(BEYOND_PART * bound_rad);
        // A spindle of unknown play is taken to turn the bolt from the start.
        let starts_free = config.reseats || config.play_rad.is_some();
        Self {
            compliance: compliance.unwrap_or(0.0),
            compliance_u: compliance.map_or(UNKNOWN_COMPLIANCE, |c| c * WINDUP_U),
            bound_rad,
            window_rad,
            catch_rad: known
                .then_some(if tooth > 0.0 { tooth } else { config.seat_rad })
                .filter(|c| *c > 0.0),
            play_rad: play,
            // A pause may take back less than the play, but then more than the release.
            sure_rad: if tooth > 0.0 {
                RELEASE_RAD.min(SURE_PLAY * play)
            } else {
                0.0
            },
            least_slack_rad: if tooth > 0.0 {
                (SURE_PLAY * play - RELEASE_RAD).max(0.0)
            } else {
                0.0
            },
            expected_slack_rad,
            slack_variance: spread * spread / 12.0,
            first_bound_rad: if config.play_rad.is_some() {
                play * (1.0 + SLACK_MARGIN_PART) + SLACK_MARGIN_RAD
            } else {
                UNKNOWN_SLACK_RAD
            },
            first_slack_rad: 0.5 * play,
            least_systematic_nm: f32::MAX,
            reseats: config.reseats,
            gives_way: config.gives_way,
            driving: !starts_free,
            free: Free::new(window_rad),
            started: false,
            bolt_rad: 0.0,
            bolt_variance: 0.0,
            mark_rad: 0.0,
            tool_mark_rad: f32::MIN,
            resisted_rad: f32::MIN,
            level_nm: 0.0,
            smooth_nm: 0.0,
            clear_joins: 0,
            held_at_rad: None,
            unseen_rad: 0.0,
            away: None,
            cut_rad: 0.0,
        }
    }

    /// Takes in one sample: tool angle in rad and torque, both in the driving direction.
    pub fn update(&mut self, tool_rad: f32, effort: &Effort) -> Motion {
        let regripped = self.away.is_some_and(|away| away.released);
        let tool_rad = self.resume(tool_rad);
        if regripped {
            self.smooth_nm = effort.torque_nm;
            if self.reseats {
                let at_rad = tool_rad - self.smooth_nm * self.compliance;
                self.driving = false;
                self.free.restart(at_rad, true);
            }
        }
        if !self.started {
            self.started = true;
            self.smooth_nm = effort.torque_nm;
            self.mark_rad = tool_rad - self.smooth_nm * self.compliance;
            self.free.restart(self.mark_rad, true);
        }
        self.held_at_rad = None;
        self.smooth_nm += (effort.torque_nm - self.smooth_nm) * SMOOTHING;
        let at_rad = tool_rad - self.smooth_nm * self.compliance;
        let mut motion = Motion::default();
        if !self.driving {
            if let Some(join) = self.rejoin(at_rad, effort) {
                self.driving = true;
                self.mark_rad = join.start_rad;
                self.bolt_variance += join.variance;
                motion.joined = true;
                motion.stretch_torque_nm = join.stretch_torque_nm;
                // A stretch that was judged on the way back ends where the tool was furthest.
                self.tool_mark_rad = f32::MIN;
                // Tool angles of the stroke before say nothing of this one.
                self.resisted_rad = f32::MIN;
                self.progress(tool_rad, at_rad.max(self.free.furthest_rad), &mut motion);
            }
        } else if self.reseats && at_rad < self.mark_rad - RELEASE_RAD {
            self.driving = false;
            self.free.restart(at_rad, false);
        } else {
            self.progress(tool_rad, at_rad, &mut motion);
        }
        motion.bolt_rad = self.bolt_rad;
        motion
    }

    /// Takes in a sample whose torque cannot be told: the bolt angle is held, and the travel of the
    /// tool meanwhile goes to its uncertainty.
    pub fn hold(&mut self, tool_rad: f32) -> Motion {
        let tool_rad = self.resume(tool_rad);
        let at_rad = tool_rad - self.smooth_nm * self.compliance;
        if self.started {
            self.unseen_rad += (tool_rad - self.held_at_rad.unwrap_or(tool_rad)).abs();
            self.mark_rad = at_rad;
            self.tool_mark_rad = tool_rad;
            self.resisted_rad = tool_rad;
        }
        self.held_at_rad = Some(tool_rad);
        Motion {
            bolt_rad: self.bolt_rad,
            ..Motion::default()
        }
    }

    /// Takes in a sample at which nothing can turn the bolt, whatever the torque says.
    ///
    /// Afterwards a locked tool goes on where it stood: what it lost is a return stroke, what it
    /// gained is no bolt angle but goes to its uncertainty, for a locked arm does not move. A tool
    /// that was let go stayed on the bolt while the hand moved: it counts on from the new grip, free
    /// until the bolt resists again.
    pub fn pause(&mut self, tool_rad: f32, why: Pause) -> Motion {
        self.held_at_rad = None;
        let away = self.away.get_or_insert(Away {
            at_rad: tool_rad - self.cut_rad,
            released: false,
        });
        away.released |= why == Pause::Released;
        Motion {
            bolt_rad: self.bolt_rad,
            ..Motion::default()
        }
    }

    /// Ends a pause; tool angle less what was cut out of it.
    fn resume(&mut self, tool_rad: f32) -> f32 {
        let tool_rad = tool_rad - self.cut_rad;
        let Some(away) = self.away.take() else {
            return tool_rad;
        };
        let travel_rad = tool_rad - away.at_rad;
        let cut_rad = if away.released {
            travel_rad
        } else {
            let crept_rad = travel_rad.max(0.0);
            self.unseen_rad += crept_rad;
            crept_rad
        };
        self.cut_rad += cut_rad;
        tool_rad - cut_rad
    }

    /// Travel of the tool while the torque was unknown, rad.
    pub fn unseen_rad(&self) -> f32 {
        self.unseen_rad
    }

    /// Standard uncertainty of the bolt angle, rad: what joins, wind-up and travel with unknown
    /// torque leave open.
    pub fn angle_u_rad(&self) -> f32 {
        let windup = self.level_nm * self.compliance_u;
        let unseen = self.unseen_rad;
        crate::math::sqrt(self.bolt_variance + windup * windup + unseen * unseen)
    }

    /// Carries the mark on to `at_rad`. Only a tool that itself goes forward turns the bolt: when
    /// torque is let off, an error of the stiffness would look like a turn. A bolt that gives way
    /// unwinds the tool and so turns further than it: what is left over follows as the tool goes on.
    /// A torque that falls while the tool hardly moves is let off, not a turn.
    fn progress(&mut self, tool_rad: f32, at_rad: f32, motion: &mut Motion) {
        if self.smooth_nm >= (1.0 - GATE_PART) * self.level_nm {
            self.resisted_rad = tool_rad;
        } else if tool_rad - self.resisted_rad < RELEASE_RAD {
            return;
        }
        let tool_step_rad = tool_rad - self.tool_mark_rad;
        let progress_rad = (at_rad - self.mark_rad).min(UNWINDING * tool_step_rad);
        self.tool_mark_rad = self.tool_mark_rad.max(tool_rad);
        if !(progress_rad > 0.0) {
            return;
        }
        self.mark_rad += progress_rad;
        self.bolt_rad += progress_rad;
        let torque = motion.stretch_torque_nm.unwrap_or(self.smooth_nm);
        self.level_nm += (torque - self.level_nm) * (progress_rad / (progress_rad + LEVEL_RAD));
        motion.progress_rad = progress_rad;
    }

    /// Where the bolt began to turn again, if it has.
    fn rejoin(&mut self, at_rad: f32, effort: &Effort) -> Option<Join> {
        let high = (HIGH_NOISES * effort.noise_nm).max(HIGH_SYSTEMATICS * effort.systematic_u_nm);
        let step_rad = at_rad - self.free.furthest_rad;
        if at_rad < self.free.search.from_rad() {
            let first = self.free.first;
            self.free.restart(at_rad, first);
            return None;
        }
        if step_rad > 0.0 {
            self.free.furthest_rad = at_rad;
            // Near standstill joint friction is undetermined: such samples hardly count.
            self.least_systematic_nm = self.least_systematic_nm.min(effort.systematic_u_nm);
            let sureness = (self.least_systematic_nm.max(effort.noise_nm))
                / effort.systematic_u_nm.max(effort.noise_nm).max(1e-9);
            self.free
                .search
                .add(at_rad, step_rad, effort.torque_nm, sureness * sureness);
        }
        if self.level_nm > high {
            return self.regain(at_rad, step_rad, effort.torque_nm, effort.noise_nm);
        }
        let travel_rad = self.free.furthest_rad - self.free.search.from_rad();
        let back = at_rad < self.free.furthest_rad - RELEASE_RAD;
        let least = self.expected_slack(self.free.first) + RELEASE_RAD;
        // A torque before that is none of the bolt's: the arm starts off, and its inertia is not
        // known at once.
        let rises = self.smooth_nm > high && (self.free.first || travel_rad >= self.sure_rad);
        if travel_rad > self.window_rad || rises || (back && travel_rad > least) {
            return Some(self.judge_stretch());
        }
        None
    }

    /// The high level: the torque must come back to where the bolt last turned.
    fn regain(
        &mut self,
        at_rad: f32,
        step_rad: f32,
        torque_nm: f32,
        noise_nm: f32,
    ) -> Option<Join> {
        let noise = noise_nm.max(1e-6);
        let gate = self.level_nm - (GATE_PART * self.level_nm).max(3.0 * noise);
        self.free.cusum += (torque_nm - gate) / noise;
        let surely_free = !self.free.first && at_rad - self.free.search.from_rad() < self.sure_rad;
        if self.free.cusum <= 0.0 || surely_free {
            self.free.cusum = 0.0;
            self.free.cusum_start_rad = at_rad;
        } else if self.free.cusum > CUSUM_LIMIT && step_rad > 0.0 {
            return Some(Join {
                start_rad: self.free.cusum_start_rad,
                variance: step_rad * step_rad,
                stretch_torque_nm: None,
            });
        }
        if self.smooth_nm < (RESISTING_PART * self.level_nm).max(noise) {
            self.free.resisting_from_rad = None;
            let travel_rad = self.free.furthest_rad - self.free.search.from_rad();
            return (self.gives_way && travel_rad > self.window_rad).then(|| {
                self.level_nm = self.smooth_nm;
                self.judge_stretch()
            });
        }
        let from = *self.free.resisting_from_rad.get_or_insert(at_rad);
        if at_rad - from < self.bound_rad {
            return None;
        }
        self.level_nm = self.smooth_nm;
        Some(Join {
            start_rad: from,
            variance: self.slack_variance,
            stretch_torque_nm: Some(self.free.search.mean_after_nm(from)),
        })
    }

    /// The low level: splits the stretch by torque, takes the catch that geometry tells, or else
    /// the usual slack.
    fn judge_stretch(&mut self) -> Join {
        let range = if self.free.first {
            (0.0, self.first_bound_rad)
        } else {
            (self.least_slack_rad, self.bound_rad)
        };
        let split = self.free.search.split(range);
        let caught = if self.free.first {
            None
        } else {
            self.catch_near(split.clear().then_some(split.at_rad))
        };
        let bin = self.window_rad / BINS as f32;
        let (start_rad, u_square) = match caught {
            Some(catch)
                if (split.at_rad - catch.start_rad).abs() < CATCH_RAD + bin
                    || split.sigma < SURE_SIGMA
                    || split.rise_nm < SURE_SYSTEMATICS * self.least_systematic_nm =>
            {
                (catch.start_rad, catch.variance)
            }
            _ if split.clear() => {
                if !self.free.first {
                    self.learn_slack(split.at_rad - self.free.search.from_rad());
                }
                (split.at_rad, bin * bin / 12.0)
            }
            _ => (
                self.free.search.from_rad() + self.expected_slack(self.free.first),
                self.slack_variance,
            ),
        };
        // A torque that rose before the slack was gone shows that it was less than expected.
        let start_rad = start_rad.min(self.free.furthest_rad);
        Join {
            start_rad,
            variance: u_square,
            stretch_torque_nm: Some(self.free.search.mean_after_nm(start_rad)),
        }
    }

    /// The catch at which the bolt must have begun to turn: a whole number of catches behind the
    /// mark, the first one that the tool meets after the slack that is surely there. Where that
    /// hangs on the last degree of play, the one nearer to `seen_rad`.
    fn catch_near(&self, seen_rad: Option<f32>) -> Option<Catch> {
        let catch = self.catch_rad?;
        let from = self.free.search.from_rad();
        let sure = if self.least_slack_rad > 0.0 {
            self.play_rad
        } else {
            0.0
        };
        let catches = (self.mark_rad - from - sure) / catch;
        let whole = floor(catches);
        let mut start = self.mark_rad - whole * catch;
        if let Some(seen) = seen_rad {
            for other in [start - catch, start + catch] {
                let slack = other - from;
                let possible = slack >= self.least_slack_rad && slack <= self.bound_rad;
                if possible && (other - seen).abs() < (start - seen).abs() {
                    start = other;
                }
            }
        }
        // Where play might just make it one catch more or less, half a catch is open.
        let edge = catches - whole;
        let open = sure > 0.0 && edge.min(1.0 - edge) * catch < RELEASE_RAD && seen_rad.is_none();
        let u_rad = if open { 0.5 * catch } else { CATCH_U_RAD };
        (start - from <= self.bound_rad).then_some(Catch {
            start_rad: start,
            variance: u_rad * u_rad,
        })
    }

    /// Learns the usual slack from joins whose point the torque showed.
    fn learn_slack(&mut self, slack_rad: f32) {
        self.clear_joins = self.clear_joins.saturating_add(1);
        self.expected_slack_rad +=
            (slack_rad - self.expected_slack_rad) / (self.clear_joins as f32 + 1.0);
    }

    fn expected_slack(&self, first: bool) -> f32 {
        if first {
            self.first_slack_rad
        } else {
            self.expected_slack_rad
        }
    }
}

impl Free {
    fn new(window_rad: f32) -> Self {
        Self {
            search: SlackSearch::new(0.0, window_rad),
            furthest_rad: 0.0,
            cusum: 0.0,
            cusum_start_rad: 0.0,
            resisting_from_rad: None,
            first: true,
        }
    }

    fn restart(&mut self, at_rad: f32, first: bool) {
        self.search.restart(at_rad);
        self.furthest_rad = at_rad;
        self.cusum = 0.0;
        self.cusum_start_rad = at_rad;
        self.resisting_from_rad = None;
        self.first = first;
    }
}
