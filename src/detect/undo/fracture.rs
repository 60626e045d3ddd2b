//! A bolt that has broken: the torque has gone within a few degrees, and nothing of a thread is left.
//!
//! A bolt that breaks loose gives its torque back over the angle over which it was built up; one that
//! twists off, at once. And what is left turns without drag and does not come out. Where neither the
//! elastic angle is stated nor one of the two is seen, nothing is said: a hard joint breaks loose as
//! suddenly.

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::grips::Grips;
use super::outward::Advance;
use super::peak::{FALLEN_PART, Fall, HALFWAY_OF_FALL};
use super::{QUARTER_RAD, Undone};

/// Part of the least elastic angle within which no sound joint gives its torque back: friction alone
/// may move that angle to 0.6 of itself (K 0.12 against 0.20), and the fall that is looked at is 0.7 of
/// the whole.
const SUDDEN_PART: f32 = 0.42;
/// Angle within which no joint gives its torque back, where nothing is stated of it, rad (11°): the same
/// part of the 27° of the hardest (ISO 5393).
const SUDDEN_RAD: f32 = SUDDEN_PART * 0.47;
/// A bolt that twists off has carried at least this part of the torque that tightened it: a slipping
/// drive lets go below.
const CARRIED_PART: f32 = 0.5;
/// A torque that holds over more than this part of the angle in which it then goes is none of a clamped
/// joint's. One that gives its torque back evenly loses the first tenth in a seventh (0.14) of the angle
/// that the next seven take, one with the cube root of the angle that is left in 0.38.
const HELD_PART: f32 = 0.4;
/// Angle in which a bolt that breaks lets go, rad (20°; starting figure of the signature table, from
/// memory): a thread that leaves its locking feature holds and lets go, too, but over a good part of a turn.
const BREAKS_RAD: f32 = 0.35;
/// Angle over which the torque must have stayed away, rad (4°) ...
const LASTING_RAD: f32 = 0.07;
/// ... and below half after a fall that no stop has broken, rad (1°).
const HALFWAY_LASTING_RAD: f32 = 0.0175;

/// Detector of bolts that break while they are undone.
#[derive(Clone, Copy, Debug, Default)]
pub struct UndoFracture {
    found: bool,
}

impl UndoFracture {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        let grips = run.grips;
        let broken = carried(run)
            && (at_once(run)
                || held_and_gone(run)
                || !run.drags_on && nothing_left(run, SUDDEN_RAD));
        if self.found || run.came_out || !broken {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::Fracture,
            quantity: Quantity::DropNm,
            value: grips.peak.nm - grips.peak.now_nm,
            limit: (1.0 - FALLEN_PART) * grips.peak.nm,
            place: None,
            likely: Some(Cause::BrokenBolt),
            runner_up: Some(Cause::SlippingSocket),
        })
    }
}

/// Whether the torque was ever one that may twist a bolt off; where its record is not known, it may.
pub fn carried(run: &Undone<'_>) -> bool {
    let recorded = run.known.recorded_nm.unwrap_or(0.0);
    run.grips.peak.nm >= CARRIED_PART * recorded
}

/// Whether a torque worth the bolt went faster than the joint could have given it back.
fn at_once(run: &Undone<'_>) -> bool {
    let grips = run.grips;
    let (Some(recorded_nm), Some(quickest_rad)) = (run.known.recorded_nm, run.known.quickest_rad)
    else {
        return false;
    };
    // A bolt that has lost clamp force has less of the angle left.
    let left = (grips.peak.nm / recorded_nm).min(1.0);
    let sudden_rad = SUDDEN_PART * left * quickest_rad;
    let within = |fall: Option<Fall>, part: f32, lasting_rad: f32| {
        fall.is_some_and(|f| f.over_rad <= part * sudden_rad && f.since_rad >= lasting_rad)
    };
    within(grips.peak.fall(), 1.0, LASTING_RAD)
        || within(grips.peak.halfway(), HALFWAY_OF_FALL, HALFWAY_LASTING_RAD)
}

/// Whether the torque held for longer, against the angle in which it then went, than clamp force can: a
/// shank that yields under torsion holds until it breaks. So does a worn drive; but it grips again with
/// its next seat.
fn held_and_gone(run: &Undone<'_>) -> bool {
    let fall = run.grips.peak.fall();
    fall.is_some_and(|f| {
        let longest_rad = f.over_rad + f.over_u_rad;
        f.held_rad >= HELD_PART * longest_rad
            && f.held_rad > 0.0
            && f.over_rad <= BREAKS_RAD
            && f.since_rad >= QUARTER_RAD
    })
}

/// Whether it went within this angle, rad, and has left no thread behind.
pub fn nothing_left(run: &Undone<'_>, sudden_rad: f32) -> bool {
    let grips: &Grips = run.grips;
    let least_drag_nm = run.known.least_drag_nm;
    let unthreaded = match run.advance {
        Advance::Stands => true,
        Advance::BacksOut => false,
        Advance::Unknown => grips.torque_nm + 2.0 * grips.torque_u_nm < least_drag_nm,
    };
    let sudden = grips
        .peak
        .fall()
        .is_some_and(|fall| fall.over_rad <= sudden_rad);
    unthreaded && grips.is_idle() && sudden && grips.quiet_rad() >= QUARTER_RAD
}
