//! False snug: a rise that looked like snug has cleared. Worth knowing, and no harm.

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Early;
use super::rise::Ended;

/// Torque that the rise must have reached above the level to look like snug, as a part of the target.
const RISE_PART: f32 = 0.05;
/// Likewise in standard uncertainties.
const RISE_SIGMA: f32 = 4.0;
/// What may be left of it.
const LEFT_PART: f32 = 0.5;

/// Looks at a rise that has ended.
pub fn look(run: &Early<'_>, ended: &Ended) -> Option<Detection> {
    let least = (run.view.expected.part_of_target_nm(RISE_PART))
        .max(RISE_SIGMA * run.view.step.torque_u_nm());
    let level = run.rise.level_nm;
    let height = ended.top_nm - level;
    let cleared = ended.fallen_nm - level < LEFT_PART * height;
    (height > least && cleared).then_some(Detection {
        kind: FindingKind::FalseSnug,
        quantity: Quantity::DropNm,
        value: ended.top_nm - ended.fallen_nm,
        limit: least,
        place: None,
        likely: Some(Cause::Debris),
        runner_up: Some(Cause::LockingFeature),
    })
}
