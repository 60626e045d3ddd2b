//! Not started: the bolt turns without resistance and without advance.
//!
//! Seeking the start of the thread may take up to a turn; one that has not caught by then, and has
//! not advanced meanwhile, is not about to. A free thread may resist less than an arm can tell: so
//! without the witness of advance nothing is said, until snug is overdue.

use crate::math::TAU;

use super::super::{Cause, Detection, FindingKind, Quantity, StepView};
use super::Early;

/// Turns within which a thread must have caught: one to seek its start, and a quarter in which the
/// advance is told.
const CAUGHT_RAD: f32 = 1.25 * TAU;
/// A head that has come along by less than this part of the pitch has not been drawn in, and one that
/// backs off by more is coming off with the tool: half-way between a thread that draws and none.
const DRAWN_PART: f32 = 0.5;
/// Standard uncertainties that the advance is told with.
const SIGMA: f32 = 2.0;

/// Whether the advance of the last half turn says that the bolt stays where it is.
pub fn stands(view: &StepView<'_>) -> bool {
    (view.advance_ratio).is_some_and(|(ratio, u)| ratio.abs() + SIGMA * u < DRAWN_PART)
}

/// Looks at the run so far.
pub fn look(run: &Early<'_>) -> Option<Detection> {
    let (view, rise) = (run.view, run.rise);
    let turned = view.step.end_rad;
    (turned > CAUGHT_RAD && rise.from_rad.is_none() && stands(view)).then_some(Detection {
        kind: FindingKind::NotStarted,
        quantity: Quantity::AdvanceRatio,
        value: view.advance_ratio.map_or(0.0, |(ratio, _)| ratio),
        limit: DRAWN_PART,
        place: None,
        likely: Some(Cause::NotCaught),
        runner_up: Some(Cause::WrongPart),
    })
}
