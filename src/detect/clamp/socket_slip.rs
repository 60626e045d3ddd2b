//! A socket that slips over the corners of the head.
//!
//! Looked for in the travel of the tool, not of the bolt, for the bolt stands: a corner lets go at
//! once, the torque is gone within a degree or two of travel, and the tool goes on without it. A tool
//! that stops, is let go or goes back for another stroke does not go on. A bolt that breaks may let
//! go as fast, but only after it has yielded; and the socket finds the next seat, the broken bolt
//! does not.

use super::super::CLEARS_PART;
use super::{Cause, SampleView};
use crate::math::Limited;

/// Time over which the torque is evened out, s.
const EVEN_S: f32 = 0.004;
/// From this part of what it held, step by step, ...
const HELD_PART: f32 = 0.8;
/// ... to this part the torque must fall ...
pub(super) const LEFT_PART: f32 = 0.3;
/// ... within this travel, rad (1.5°), or this time, s: what a fast spindle travels while torque is
/// evened out.
const ABRUPT_RAD: f32 = 0.026;
const ABRUPT_S: f32 = 0.02;
/// Likewise for a torque that a burr may bear, s: twice what the evening out takes of it, for a burr
/// that is turned through fast clears within little more.
const CLEARS_S: f32 = 0.008;
/// Travel without torque that shows that the tool goes on, rad (1.5°).
const ON_RAD: f32 = 0.026;
/// Least torque that counts as a grip: part of the target, ...
const LEAST_PART: f32 = 0.1;
/// ... standard uncertainties of the torque, and so many times its noise.
const LEAST_SIGMA: f32 = 5.0;
/// Part of the torque at which it began to yield that a bolt still carries until it breaks.
const STILL_PART: f32 = 0.8;
/// Fall of the tool behind where it was furthest that counts as having gone back, rad (0.5°).
const BACK_RAD: f32 = 0.0087;

/// A grip that was lost at once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct LetGo {
    /// Torque that was held, N·m, and what is left of it.
    pub held_nm: f32,
    pub left_nm: f32,
}

/// One grip of the tool, since it last turned back.
#[derive(Clone, Copy, Debug, Default)]
struct Grip {
    furthest_rad: f32,
    held_nm: f32,
    /// Travel and time at which the torque last was held, rad and s.
    held_rad: f32,
    since_held_s: f32,
    /// Time within which it must go, s.
    abrupt_s: f32,
    /// Tool angle at which it had gone, rad, and whether that was at once.
    gone: Option<(f32, bool)>,
}

impl Grip {
    fn at_once(&self) -> bool {
        self.furthest_rad - self.held_rad < ABRUPT_RAD || self.since_held_s < self.abrupt_s
    }
}

/// Follows the torque over the travel of the tool.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SocketSlip {
    even_nm: Option<f32>,
    grip: Option<Grip>,
}

impl SocketSlip {
    /// Whether a grip is being lost at once, or has been, and the tool has yet to show that it goes on.
    pub fn pending(&self) -> bool {
        let losing = |grip: &Grip| {
            let at_once = grip.at_once();
            self.even_nm.is_some_and(|t| t < HELD_PART * grip.held_nm) && at_once
        };
        self.grip.as_ref().is_some_and(|grip| {
            grip.gone
                .map_or_else(|| losing(grip), |(_, at_once)| at_once)
        })
    }

    /// Takes in a sample; a grip that was lost at once, when the tool has gone on without it. `clamped`:
    /// whether the head has seated.
    pub fn follow(&mut self, view: &SampleView<'_>, clamped: bool) -> Option<LetGo> {
        // Before snug is due a torque that breaks off is a burr that has cleared, or the start of a
        // stroke; a slip there harms no head.
        let clamps = view.expected.may_be_snug(view.bolt_rad);
        if view.paused || !view.torque.observable || !clamps {
            *self = Self::default();
            return None;
        }
        let tool_rad = view.tool_rad;
        let dt_s = view.dt_s.at_least(0.0);
        let before_nm = self.even_nm.unwrap_or(view.torque.value_nm);
        let even_nm = before_nm + (view.torque.value_nm - before_nm) * (dt_s / (dt_s + EVEN_S));
        self.even_nm = Some(even_nm);
        let turned_back = self
            .grip
            .is_some_and(|grip| tool_rad < grip.furthest_rad - BACK_RAD);
        if turned_back {
            self.grip = None;
        }
        let grip = self.grip.get_or_insert(Grip {
            furthest_rad: tool_rad,
            held_rad: tool_rad,
            ..Grip::default()
        });
        grip.furthest_rad = grip.furthest_rad.at_least(tool_rad);
        grip.held_nm = grip.held_nm.at_least(even_nm);
        grip.since_held_s += dt_s;
        let ceiling_nm = if view.expected.ceiling_stated {
            view.expected.ceiling_nm
        } else {
            0.0
        };
        let may_clear = grip.held_nm < ceiling_nm + view.expected.part_of_target_nm(CLEARS_PART);
        grip.abrupt_s = if may_clear { CLEARS_S } else { ABRUPT_S };
        if even_nm >= HELD_PART * grip.held_nm {
            (grip.held_rad, grip.since_held_s, grip.gone) = (tool_rad, 0.0, None);
            return None;
        }
        let least_nm = view
            .expected
            .part_of_target_nm(LEAST_PART)
            .at_least(LEAST_SIGMA * view.torque.u_nm());
        // Before the head has seated that may be a tool that finds the head, or joints that turn round: a
        // slip at so little harms no head.
        let harmless = may_clear && !clamped;
        if harmless || grip.held_nm < least_nm || even_nm > LEFT_PART * grip.held_nm {
            return None;
        }
        let at_once = grip.at_once();
        let (gone_rad, at_once) = *grip.gone.get_or_insert((tool_rad, at_once));
        (at_once && tool_rad - gone_rad > ON_RAD).then_some(LetGo {
            held_nm: grip.held_nm,
            left_nm: even_nm.at_least(0.0),
        })
    }
}

/// What let go, and what else it may have been: a bolt that has not yielded does not break, and one
/// that carries less than it yields at does not either. Where the yield was seen for long enough to be
/// said, at `onset_nm`, that tells what this bolt yields at, else the description: `least_nm`.
pub(super) fn causes(
    let_go: &LetGo,
    yields: bool,
    onset_nm: Option<f32>,
    least_nm: Option<f32>,
) -> (Cause, Cause) {
    let breaks = match onset_nm {
        Some(onset_nm) => let_go.held_nm > STILL_PART * onset_nm,
        None => yields && least_nm.is_none_or(|least| let_go.held_nm > least),
    };
    if breaks {
        (Cause::BrokenBolt, Cause::SlippingSocket)
    } else {
        (Cause::SlippingSocket, Cause::BrokenBolt)
    }
}
