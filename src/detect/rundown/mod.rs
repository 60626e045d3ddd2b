//! What may go wrong before the head seats, one file each. One rise of the torque has one cause: so
//! they share what is known of it and are asked in turn, and once a stop was said, nothing more is.

mod already_tight;
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

use already_tight::AlreadyTight;
use history::History;
use rise::Rise;

use super::{CLEARS_PART, Detection, Detector, FindingKind, SampleView, StepView};

/// Bolt angle in which a bolt that is run down cannot take torque yet, rad (15°).
const FREE_RAD: f32 = crate::math::TAU / 24.0;
/// The parts are drawn together before the elastic line begins, over up to this part of its angle
/// (the toe; common practice, no source).
const TOE_PART: f32 = 0.15;

/// The rundown as far as it has come.
struct Early<'a> {
    view: &'a StepView<'a>,
    rise: &'a Rise,
    history: &'a History,
    /// Bolt angle before which nothing but a fault makes the torque rise, rad.
    seat_from_rad: Option<f32>,
}

impl Early<'_> {
    /// Slope of the rise, N·m/rad: the last of it, or all of it where it is ragged.
    fn slope(&self) -> Option<f32> {
        self.rise.line(self.view).map(|l| l.slope)
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
    already_tight: AlreadyTight,
    stopped: bool,
    seated: bool,
    said: [Option<FindingKind>; 5],
}

impl Rundown {
    fn say(&mut self, found: Option<Detection>) -> Option<Detection> {
        let detection = found?;
        let kind = Some(detection.kind);
        self.stopped |= detection.kind.stops();
        if self.said.contains(&kind) {
            return None;
        }
        if let Some(free) = self.said.iter_mut().find(|s| s.is_none()) {
            *free = kind;
        }
        Some(detection)
    }
}

impl Detector for Rundown {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.already_tight.turned(view.step.end_rad);
        let expected = view.expected;
        if self.stopped || self.seated || expected.carried_nm.is_some() || !view.step.observable {
            return None;
        }
        self.history.add(view.step);
        let ended = self.rise.add(view);
        let toe = expected.elastic_rad.map_or(0.0, |e| TOE_PART * e.middle());
        let (rise, history) = (self.rise, self.history);
        let run = Early {
            view,
            rise: &rise,
            history: &history,
            seat_from_rad: expected.earliest_snug_rad.map(|e| e - toe),
        };
        if let Some(ended) = ended {
            return self.say(false_snug::look(&run, &ended));
        }
        let Some(from) = rise.from_rad else {
            let found = not_started::look(&run).or_else(|| late_snug::overdue(&run));
            return self.say(found);
        };
        let crossed = cross_thread::look(&run);
        if crossed.is_some() {
            return self.say(crossed);
        }
        let early = run.seat_from_rad.is_some_and(|seat| from < seat);
        let beyond = rise.height_nm() > expected.part_of_target_nm(CLEARS_PART).max(rise.limit_nm);
        let origin = run.origin_rad();
        if early {
            let before = |o: f32| run.seat_from_rad.is_some_and(|seat| o < seat);
            let grown = beyond && origin.is_some_and(before);
            let found = (grown.then(|| early_snug::look(&run)).flatten())
                .or_else(|| galling::look(&run, grown));
            if found.is_some() || grown {
                return self.say(found);
            }
        }
        if early || expected.earliest_snug_rad.is_none() {
            if let Some(high) = prevailing::high(&run) {
                self.rise.settle(high.value);
                return self.say(Some(high));
            }
        }
        if !beyond {
            return None;
        }
        let seat = origin?;
        self.seated = true;
        let found = prevailing::low(&run, seat).or_else(|| late_snug::seated(&run, seat));
        self.say(found)
    }

    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        if self.stopped {
            return None;
        }
        let found = self.already_tight.look(view);
        self.say(found)
    }
}
