//! A drive that does not hold: the torque lets go and grips again, with the seats of the head.
//!
//! One slip may be a tool that was not seated; a second one is a drive that does not hold. Where the
//! torque is too low and ragged for clear grips, a run that has gone through three seats of the
//! fewest (four) without anything like a breakaway is judged by all of its climbs together. Grips that
//! are too short for a mean, as those of a stiff tool are, tell by their even distance. A drive that lets
//! go for good looks like a bolt that twists off, at a torque that twists none off; and one that
//! grips nothing from the start turns on a bolt that bears no torque and does not come out.

use crate::math::TAU;

use super::super::{Cause, Detection, FindingKind, Quantity};
use super::fracture::{carried, nothing_left};
use super::outward::Advance;
use super::{FELT_SIGMA, QUARTER_RAD, Undone, peak};

/// A re-grip is a climb by this part of the highest torque: a loose thread's grain swings by a fifth
/// at most, a grip that carries less than a third of the highest turns no bolt.
const REGRIP_PART: f32 = 1.0 / 3.0;
/// All climbs of a turn together, once three seats have gone by.
const CLIMBS_PART: f32 = 0.5;
/// Three seats of a cross recess, rad.
const SEATS_RAD: f32 = 3.0 * QUARTER_RAD;

/// Angle within which a drive lets go, rad (20°; from memory, no source).
const LETS_GO_RAD: f32 = 0.35;

/// Detector of stripped drives.
#[derive(Clone, Copy, Debug, Default)]
pub struct DriveStripped {
    found: bool,
}

impl DriveStripped {
    /// Looks at the run so far.
    pub fn look(&mut self, run: &Undone<'_>) -> Option<Detection> {
        // A bolt that comes out is turned by its drive, however rough it runs.
        if self.found || run.came_out || run.advance == Advance::BacksOut {
            return None;
        }
        let (value, limit) = even_grips(run)
            .or_else(|| let_go(run))
            .or_else(|| regrips(run).filter(|_| !run.loose))?;
        self.found = true;
        Some(Detection {
            kind: FindingKind::DriveStripped,
            quantity: Quantity::AmplitudeNm,
            value,
            limit,
            place: None,
            likely: Some(Cause::WornDrive),
            runner_up: Some(Cause::SlippingSocket),
        })
    }
}

/// Climbs after the torque had let go, against what no bolt shows, N·m.
fn regrips(run: &Undone<'_>) -> Option<(f32, f32)> {
    let grips = run.grips;
    let second = (grips.second_regrip_nm(), REGRIP_PART * grips.highest_nm);
    let turns = (grips.since_contact_rad() / TAU).max(1.0);
    let all = (grips.regrips_nm(), turns * CLIMBS_PART * grips.highest_nm);
    // A torque that was worth the bolt and never went low has let go of nothing, however rough it is.
    let bears = run.known.recorded_nm.is_some() && carried(run) && grips.dragged_rad() >= SEATS_RAD;
    let late = grips.since_contact_rad() >= SEATS_RAD && !grips.growing_quiet() && !bears;
    let clear = second.0 > 0.0 && second.0 >= second.1;
    let ragged = late && all.0 > 0.0 && all.0 >= all.1;
    clear.then_some(second).or(ragged.then_some(all))
}

/// Short grips, evenly apart.
fn even_grips(run: &Undone<'_>) -> Option<(f32, f32)> {
    let grips = run.grips;
    (grips.spikes.even())
        .then_some((grips.peak.nm, peak::SPIKE_PART * grips.peak.nm))
        .filter(|(peak_nm, _)| *peak_nm > FELT_SIGMA * grips.torque_u_nm)
}

/// A grip that let go for good at too low a torque, or that was never felt at all.
fn let_go(run: &Undone<'_>) -> Option<(f32, f32)> {
    let grips = run.grips;
    let too_low = nothing_left(run, LETS_GO_RAD) && !carried(run);
    let unfelt =
        run.advance == Advance::Stands && grips.highest_nm < FELT_SIGMA * grips.torque_u_nm;
    let recorded_nm = run.known.recorded_nm?;
    (too_low || unfelt).then_some((grips.peak.nm, recorded_nm))
}
