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
//! | free, level high | torque regains the gate (CUSUM) | driving |
//! | free, level high | torque below the gate but resisting over more than the slack: the bolt resists less than it did | driving |
//! | free, level high, and the bolt may give way | no torque over the slack and more: as with a low level | driving |
//! | free, level low | travel beyond the slack, or the tool goes back, or torque rises high | driving |
//! | either | nothing can turn the bolt (arm locked, tool let go): [`StrokeJoiner::pause`] | as before; free if the tool was let go |
//!
//! The stroke counts from the catch of ratchet or socket, where tooth and seat tell it; else from
//! where the torque first passed the gate, or where a low stretch splits best in two. What the play
//! leaves open of it, whole teeth even, stands in the uncertainty of the angle.
//!
//! Bounded: a constant number of operations, and where a stretch is judged two passes over its bins.

use super::free::{Driven, Free, Join};
use super::geometry::Geometry;
use super::motion::{Effort, JoinConfig, Motion, Pause};
use crate::math::Limited;

/// Fall of the tool angle behind its mark that counts as having gone back (0.5°).
pub const RELEASE_RAD: f32 = 0.0087;

/// Angle over which the resisting level is averaged while driving (1.5°).
const LEVEL_RAD: f32 = 0.026;
/// A torque this part below the level is let off, unless the tool goes on: a bolt that stood turns again
/// with no less than it last turned with.
const LET_OFF_PART: f32 = 0.03;
/// Smoothing of the torque that wind-up is computed from, one sample's share.
const SMOOTHING: f32 = 0.25;
/// Bolt angle with known torque after which it matters no more for the last torque what was not seen before,
/// rad (1.5°): as long as the line that gives it.
const SEEN_RAD: f32 = 0.026;
/// Bolt turn allowed for each turn of the tool.
const UNWINDING: f32 = 2.0;
/// Relative standard uncertainty taken for a stated wind-up stiffness.
const WINDUP_U: f32 = 0.1;
/// Compliance up to which an unstated wind-up is reckoned with, rad/(N·m).
const UNKNOWN_COMPLIANCE: f32 = 1.0e-3;

/// Since when nothing can turn the bolt.
#[derive(Clone, Copy, Debug)]
struct Away {
    /// Tool angle at the first such sample, rad.
    at_rad: f32,
    released: bool,
}

/// The stroke joiner. Feed it tool angle and torque in the driving direction.
#[derive(Clone, Copy, Debug)]
pub struct StrokeJoiner {
    compliance: f32,
    compliance_u: f32,
    geometry: Geometry,
    reseats: bool,
    gives_way: bool,

    /// Whether the tool turns the bolt; else it is free.
    driving: bool,
    free: Free,
    started: bool,
    bolt_rad: f32,
    bolt_variance: f32,
    /// Sum of what each join leaves open alike, rad.
    open_rad: f32,
    /// Tool angle less wind-up at which the bolt last turned.
    mark_rad: f32,
    /// Tool angle at which it last turned, and at which the torque last stood at its level.
    tool_mark_rad: f32,
    resisted_rad: f32,
    level_nm: f32,
    smooth_nm: f32,
    /// Since the torque is unknown: tool angle at the first such sample, and the furthest from it, rad.
    held: Option<(f32, f32)>,
    /// Travel of the tool while the torque was unknown, rad: of the run, and since the bolt last turned by
    /// [`SEEN_RAD`] with a known one; and by how much it turned since.
    unseen_rad: f32,
    end_unseen_rad: f32,
    seen_rad: f32,
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
        let geometry = Geometry::new(config);
        // A spindle of unknown play is taken to turn the bolt from the start.
        let starts_free = config.reseats || config.play_rad.is_some();
        Self {
            compliance: compliance.unwrap_or(0.0),
            compliance_u: compliance.map_or(UNKNOWN_COMPLIANCE, |c| c * WINDUP_U),
            reseats: config.reseats,
            gives_way: config.gives_way,
            driving: !starts_free,
            free: Free::new(geometry.window_rad),
            geometry,
            started: false,
            bolt_rad: 0.0,
            bolt_variance: 0.0,
            open_rad: 0.0,
            mark_rad: 0.0,
            tool_mark_rad: f32::MIN,
            resisted_rad: f32::MIN,
            level_nm: 0.0,
            smooth_nm: 0.0,
            held: None,
            unseen_rad: 0.0,
            end_unseen_rad: 0.0,
            seen_rad: 0.0,
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
        self.held = None;
        self.smooth_nm += (effort.torque_nm - self.smooth_nm) * SMOOTHING;
        let at_rad = tool_rad - self.smooth_nm * self.compliance;
        let mut motion = Motion::default();
        if !self.driving {
            let driven = Driven {
                mark_rad: self.mark_rad,
                level_nm: self.level_nm,
                gives_way: self.gives_way,
            };
            let smooth_nm = self.smooth_nm;
            if let Some(join) =
                self.free
                    .rejoin(&mut self.geometry, &driven, at_rad, effort, smooth_nm)
            {
                self.join(&join);
                motion.joined = true;
                motion.stretch_torque_nm = join.stretch_torque_nm;
                // A stretch that was judged on the way back ends where the tool was furthest.
                self.progress(
                    tool_rad,
                    at_rad.at_least(self.free.furthest_rad),
                    &mut motion,
                );
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

    /// Takes in a sample whose torque cannot be told: the bolt angle is held, and the furthest travel of
    /// the tool meanwhile goes to its uncertainty.
    pub fn hold(&mut self, tool_rad: f32) -> Motion {
        let tool_rad = self.resume(tool_rad);
        let at_rad = tool_rad - self.smooth_nm * self.compliance;
        if self.started {
            let (from_rad, furthest_rad) = self.held.unwrap_or((tool_rad, 0.0));
            let furthest_rad_now = furthest_rad.at_least((tool_rad - from_rad).abs());
            self.not_seen(furthest_rad_now - furthest_rad);
            self.held = Some((from_rad, furthest_rad_now));
            self.mark_rad = at_rad;
            self.tool_mark_rad = tool_rad;
            self.resisted_rad = tool_rad;
        }
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
        self.held = None;
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

    /// Samples were missing since the tool stood at `tool_rad`, for so long that it may have left the head and
    /// come back, while the bolt turned by some `turned_rad`: it counts on from where the tool is now, as
    /// after it was let go. A spindle stays on the bolt and tells what it turned.
    pub fn lose(&mut self, tool_rad: f32, turned_rad: f32) {
        if self.reseats {
            self.not_seen(turned_rad.abs());
            self.pause(tool_rad, Pause::Released);
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
            let crept_rad = travel_rad.at_least(0.0);
            self.not_seen(crept_rad);
            crept_rad
        };
        self.cut_rad += cut_rad;
        tool_rad - cut_rad
    }

    /// Counts travel of the tool while the torque was unknown.
    fn not_seen(&mut self, travel_rad: f32) {
        self.unseen_rad += travel_rad;
        self.end_unseen_rad += travel_rad;
        self.seen_rad = 0.0;
    }

    /// Travel of the tool while the torque was unknown, rad, since the bolt last turned by
    /// 1.5° with a known one.
    pub fn end_unseen_rad(&self) -> f32 {
        self.end_unseen_rad
    }

    /// Standard uncertainty of the bolt angle, rad: what joins, wind-up and travel with unknown
    /// torque leave open.
    pub fn angle_u_rad(&self) -> f32 {
        let windup = self.level_nm * self.compliance_u;
        let (open, unseen) = (self.open_rad, self.unseen_rad);
        crate::math::sqrt(self.bolt_variance + open * open + windup * windup + unseen * unseen)
    }

    /// Drives again.
    fn join(&mut self, join: &Join) {
        self.driving = true;
        self.mark_rad = join.start_rad;
        self.level_nm = join.level_nm.unwrap_or(self.level_nm);
        self.bolt_variance += join.variance;
        self.open_rad += join.open_rad;
        // Tool angles of the stroke before say nothing of this one.
        self.tool_mark_rad = f32::MIN;
        self.resisted_rad = f32::MIN;
    }

    /// Carries the mark on to `at_rad`. Only a tool that itself goes forward turns the bolt: when
    /// torque is let off, an error of the stiffness would look like a turn. A bolt that gives way
    /// unwinds the tool and so turns further than it: what is left over follows as the tool goes on.
    /// A torque that falls while the tool hardly moves is let off, not a turn.
    fn progress(&mut self, tool_rad: f32, at_rad: f32, motion: &mut Motion) {
        if self.smooth_nm >= (1.0 - LET_OFF_PART) * self.level_nm {
            self.resisted_rad = tool_rad;
        } else if tool_rad - self.resisted_rad < RELEASE_RAD {
            return;
        }
        let tool_step_rad = tool_rad - self.tool_mark_rad;
        let progress_rad = (at_rad - self.mark_rad).at_most(UNWINDING * tool_step_rad);
        self.tool_mark_rad = self.tool_mark_rad.at_least(tool_rad);
        if !(progress_rad > 0.0) {
            return;
        }
        self.mark_rad += progress_rad;
        self.bolt_rad += progress_rad;
        self.seen_rad += progress_rad;
        if self.seen_rad >= SEEN_RAD {
            self.end_unseen_rad = 0.0;
        }
        let torque = motion.stretch_torque_nm.unwrap_or(self.smooth_nm);
        self.level_nm += (torque - self.level_nm) * (progress_rad / (progress_rad + LEVEL_RAD));
        motion.progress_rad = progress_rad;
    }
}
