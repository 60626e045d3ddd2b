//! Early snug: the bolt clamps, or is stopped, before its head can have seated.
//!
//! The torque has passed what running down may take before snug is due, has gone beyond what a burr
//! or a chip bears before it gives way, and rises as something that is clamped does, not as a thread
//! that binds more and more with every turn. What lies between the parts makes a joint softer than
//! it is; what is stiffer than the joint has none of it in its way: the end of the thread.

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::Early;
use super::cross_thread::FIRST_TURNS_RAD;
use crate::fastener::ExpectedRun;

/// A slope of this part of the joint's usual one clamps (common practice, no source: debris makes a
/// joint a few times as soft).
const CLAMPING_PART: f32 = 1.0 / 6.0;
/// A slope that is so much steeper than the joint's usual one is not the joint (friction alone makes
/// up to a factor of 1.75: 0.08 against 0.14 at the same joint).
const BOTTOMING_PART: f32 = 1.75;

/// Whether the rise is as steep as something that clamps.
pub fn clamps(run: &Early<'_>) -> bool {
    let expected = run.view.expected;
    let usual = usual_nm_per_rad(expected).unwrap_or(expected.least_rate_nm_per_rad);
    run.slope()
        .is_some_and(|slope| slope >= CLAMPING_PART * usual)
}

/// Looks at a rise that has gone beyond what clears.
pub fn look(run: &Early<'_>) -> Option<Detection> {
    let from = run.rise.from_rad?;
    if !clamps(run) {
        return None;
    }
    let slope = run.slope()?;
    let local = run.view.local.map_or(slope, |l| l.slope.max(slope));
    let steepest = steepest_nm_per_rad(run.view.expected);
    let (likely, runner_up) = if steepest.is_some_and(|s| local > s) {
        (Cause::Bottoming, Cause::WrongPart)
    } else if from < FIRST_TURNS_RAD {
        (Cause::Debris, Cause::CrossedThread)
    } else {
        (Cause::Debris, Cause::GallingThread)
    };
    Some(Detection {
        kind: FindingKind::EarlySnug,
        quantity: Quantity::AngleRad,
        value: from,
        limit: run.seat_from_rad?,
        place: None,
        likely: Some(likely),
        runner_up: Some(runner_up),
    })
}

/// Usual slope of the joint, N·m/rad.
fn usual_nm_per_rad(expected: &ExpectedRun) -> Option<f32> {
    (expected.target_nm.zip(expected.elastic_rad)).map(|(target, e)| target / e.middle())
}

/// Slope above which it is not the joint that is clamped, N·m/rad.
fn steepest_nm_per_rad(expected: &ExpectedRun) -> Option<f32> {
    usual_nm_per_rad(expected)
        .map(|usual| BOTTOMING_PART * usual)
        .or(expected.most_rate_nm_per_rad)
}
