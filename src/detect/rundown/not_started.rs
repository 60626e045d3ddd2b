//! Not started: the bolt turns without resistance and without advance.
//!
//! Seeking the start of the thread may take up to a turn; one that has not caught by then, and has
//! not advanced meanwhile, is not about to. A free thread may resist less than an arm can tell: so
//! without the witness of advance nothing is said, until snug is overdue. The advance of the last half
//! turn tells soonest; where strokes are lifted off it tells little, but that of the run as a whole does:
//! by then a thread that had caught would have drawn the head in by millimetres.

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

/// Way along the thread per turn of the run as a whole, as a part of the pitch, where it says that the
/// bolt has stayed where it was, and the part that it is held to: in all but the first turn, which may have gone on seeking the thread.
/// By so many standard uncertainties.
fn never_drawn(run: &Early<'_>, sigma: f32) -> Option<(f32, f32)> {
    let view = run.view;
    let caught_part = DRAWN_PART * (1.0 - TAU / view.step.end_rad);
    (run.drawn.ratio(view.expected.pitch_m))
        .filter(|(ratio, u)| ratio.abs() + sigma * u < caught_part)
        .map(|(ratio, _)| (ratio, caught_part))
}

/// Looks at the run so far.
pub fn look(run: &Early<'_>) -> Option<Detection> {
    let (view, rise) = (run.view, run.rise);
    if view.step.end_rad <= CAUGHT_RAD || rise.from_rad.is_some() {
        return None;
    }
    let lately = (view.advance_ratio).filter(|_| stands(view));
    let ratio = lately
        .map(|(ratio, _)| (ratio, DRAWN_PART))
        .or_else(|| never_drawn(run, SIGMA))?;
    Some(not_caught(ratio, Cause::WrongPart))
}

/// Where something must be said, for snug is overdue: that the thread has not caught, if it rather has not.
pub fn rather(run: &Early<'_>) -> Option<Detection> {
    never_drawn(run, 0.0).map(|ratio| not_caught(ratio, Cause::MissingPart))
}

fn not_caught((value, limit): (f32, f32), runner_up: Cause) -> Detection {
    Detection {
        kind: FindingKind::NotStarted,
        quantity: Quantity::AdvanceRatio,
        value,
        limit,
        place: None,
        likely: Some(Cause::NotCaught),
        runner_up: Some(runner_up),
    }
}
