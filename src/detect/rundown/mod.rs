//! What may go wrong before the head seats, one file each. One rise of the torque has one cause: so
//! they share what is known of it and are asked in turn, and once a stop was said, nothing more is.

mod blocked;
mod cross_thread;
mod early_snug;
mod false_snug;
mod galling;
mod history;
mod late_snug;
mod not_started;
mod prevailing;
mod rise;

#[cfg(test)]
mod tests;

pub(super) use cross_thread::FIRST_TURNS_RAD;

use blocked::Blocked;
use history::History;
use rise::{Ended, Rise};

use crate::fastener::ExpectedRun;
use crate::turn::AdvanceTracker;

use super::{CLEARS_PART, Detection, Detector, FindingKind, SampleView, StepView, WRONG_FEATURE};

/// Bolt angle in which a bolt that is run down cannot take torque yet, rad (15°).
const FREE_RAD: f32 = crate::math::TAU / 24.0;
/// Steps of the mean at its end that the slope of a rise is taken with, once it is as long (10°).
const SMOOTH_STEPS: usize = 20;
const SMOOTH_RAD: f32 = SMOOTH_STEPS as f32 * crate::curve::STEP_RAD;
/// The parts are drawn together before the elastic line begins, over up to this part of its angle
/// (the toe; common practice, no source).
const TOE_PART: f32 = 0.15;
/// A wrong locking feature never takes more than this part of the target.
const LARGEST_FEATURE_PART: f32 = 0.5;

/// Standard uncertainties by which a bolt angle must lie outside its window (JCGM 106, 8.3: guarded
/// rejection; 2 stands for 95 % and more).
const SIGMA: f32 = 2.0;

/// The rundown as far as it has come.
struct Early<'a> {
    view: &'a StepView<'a>,
    rise: &'a Rise,
    history: &'a History,
    /// Bolt angle before which nothing but a fault makes the torque rise, rad.
    seat_from_rad: Option<f32>,
    /// Way along the thread since the start of the run.
    drawn: &'a AdvanceTracker,
}

impl Early<'_> {
    /// Slope of the rise as a whole, N·m/rad: it may be too ragged for a slope of its last degrees.
    fn slope(&self) -> Option<f32> {
        let since = self.rise.since_rad();
        let (now_nm, over) = if since < SMOOTH_RAD {
            (self.rise.now_nm, since)
        } else {
            let mean_nm = self.view.window.mean_torque_nm(SMOOTH_STEPS);
            (mean_nm, since - 0.5 * SMOOTH_RAD)
        };
        (over > 0.0).then(|| (now_nm - self.rise.limit_nm) / over)
    }

    /// Bolt angle at which the slope of the rise leaves the level before it, rad.
    fn origin_rad(&self) -> Option<f32> {
        let line = self.rise.line(self.view).filter(|l| l.slope > 0.0)?;
        Some(line.x_mean - (line.y_mean - self.rise.level_nm) / line.slope)
    }
}

/// Findings of a rundown: thread not caught, crossed, galling, or out of its band; snug too early, too
/// late, or false; already tight.
#[derive(Clone, Copy, Debug, Default)]
pub struct Rundown {
    rise: Rise,
    history: History,
    blocked: Blocked,
    /// Way along the thread since the start of the run.
    drawn: AdvanceTracker,
    /// Standard uncertainty of the bolt angle at the last step, rad.
    angle_u_rad: f32,
    ended: bool,
    said: [Option<FindingKind>; 5],
}

impl Rundown {
    /// What a step tells, and whether the head has seated with it: from there on the rundown is over.
    fn look(&self, view: &StepView<'_>, ended: Option<Ended>) -> (Option<Detection>, bool) {
        let (rise, expected) = (&self.rise, view.expected);
        let run = Early {
            view,
            rise,
            history: &self.history,
            seat_from_rad: seat_from_rad(expected, view.angle_u_rad),
            drawn: &self.drawn,
        };
        if let Some(ended) = ended {
            return (false_snug::look(&run, &ended), false);
        }
        let Some(from) = rise.from_rad else {
            let found = not_started::look(&run).or_else(|| late_snug::overdue(&run));
            return (found, false);
        };
        let crossed = cross_thread::look(&run);
        if crossed.is_some() {
            return (crossed, false);
        }
        let early = run.seat_from_rad.map(|seat| from < seat);
        // Without a target nobody can say what a burr bears, nor what the joint takes.
        let beyond = (expected.target_nm).is_some_and(|target| {
            let feature_nm = expected.band_max_nm.map_or(0.0, |most| {
                (WRONG_FEATURE * most).min(LARGEST_FEATURE_PART * target)
            });
            let clears_nm = (CLEARS_PART * target).max(feature_nm);
            rise.height_nm() > clears_nm.max(rise.limit_nm)
        });
        let origin = run.origin_rad();
        if early == Some(true) && view.step.angle_rad > FREE_RAD {
            let before = |(origin, seat): (f32, f32)| origin < seat;
            let grown = beyond && origin.zip(run.seat_from_rad).is_some_and(before);
            let clamped = grown.then(|| early_snug::look(&run)).flatten();
            let found = clamped.or_else(|| galling::look(&run, grown));
            if found.is_some() || grown {
                return (found, false);
            }
        }
        let high = (early != Some(false))
            .then(|| prevailing::high(&run))
            .flatten();
        match origin.filter(|_| beyond && high.is_none()) {
            Some(seat) => {
                let found = prevailing::before_seat(&run, seat);
                (found.or_else(|| late_snug::seated(&run, seat)), true)
            }
            None => (high, false),
        }
    }
}

/// Bolt angle before which surely nothing but a fault makes the torque rise, rad.
fn seat_from_rad(expected: &ExpectedRun, angle_u_rad: f32) -> Option<f32> {
    let toe = expected.elastic_rad.map_or(0.0, |e| TOE_PART * e.middle());
    let earliest = expected.earliest_snug_rad?;
    Some(earliest - toe - SIGMA * angle_u_rad)
}

impl Detector for Rundown {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        if self.ended || view.expected.carried_nm.is_some() || !view.step.observable {
            return None;
        }
        self.angle_u_rad = view.angle_u_rad;
        let ended = self.rise.add(view, &self.history);
        self.history.add(view.step);
        if let Some(z) = view.step.advance_m {
            let step = view.step;
            self.drawn.add_for_good(step.angle_rad, z, step.width_rad);
        }
        let (found, seated) = self.look(view, ended);
        self.ended |= seated;
        let found = found?;
        self.ended |= found.kind.stops();
        if found.kind == FindingKind::PrevailingHigh {
            self.rise.settle(found.value);
        }
        let kind = Some(found.kind);
        if self.said.contains(&kind) {
            return None;
        }
        if let Some(free) = self.said.iter_mut().find(|s| s.is_none()) {
            *free = kind;
        }
        Some(found)
    }

    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        if self.ended || view.expected.carried_nm.is_some() {
            return None;
        }
        let seat = seat_from_rad(view.expected, self.angle_u_rad);
        let found = self.blocked.look(view, &self.rise, seat);
        self.ended |= found.is_some();
        found
    }
}
