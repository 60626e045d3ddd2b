//! The runs that a controller told of, in the form that a replay gives.

use std::time::SystemTime;

use bolting_monitor::wire::{Alarm, Evidence, FromController, Hello, SnugAngle, Summary};

use super::partial::{Boot, Partial};
use super::{Said, View};
use crate::replay::Outcome;

/// A run that a controller told of.
#[derive(Clone, Debug)]
pub struct LoggedRun {
    /// Who told of it. Where that was not [`introduced`](Self::introduced) nothing in it was told but
    /// what `boot_known` and `number_known` say.
    pub hello: Hello,
    /// Whether the log holds the message that says who tells of this run.
    pub introduced: bool,
    /// Whether it is known of which boot of the controller it is.
    pub boot_known: bool,
    /// Whether the low byte of its number was told. The rest of it, where the run was not introduced, is
    /// that of the nearest run of the same boot.
    pub number_known: bool,
    /// Name and CRC of another job that was told before this run was summed up.
    pub other_job: Option<(String, u32)>,
    /// The host's time of the first and the last message of it, where the log tells.
    pub heard: Option<[SystemTime; 2]>,
    /// What it told. A run that was not summed up is not assessable, and its final torque not told.
    pub outcome: Outcome,
    /// Whether the controller summed the run up.
    pub summed_up: bool,
    /// Whether it did in a form that this version does not know.
    pub summary_unknown: bool,
    /// Evidence whose alarm the log does not hold.
    pub stray_evidence: Vec<Evidence>,
    /// Alarms whose evidence the log does not hold, or whose number this version does not know.
    pub bare_alarms: Vec<Alarm>,
    /// Points of the curve that the controller left out while its link was slow or down.
    pub points_left_out: u32,
}

/// The runs that `messages` tell of, in the order in which they began; of each, what was received,
/// summed up or not. Repeats of retained messages count once. What is retained may come late: it goes
/// to the run that it names.
pub fn runs<'a>(messages: impl IntoIterator<Item = &'a FromController>) -> Vec<LoggedRun> {
    let mut told = Told::default();
    messages.into_iter().for_each(|m| told.take(None, m));
    told.runs()
}

impl View {
    /// As [`runs`], with the host's times.
    pub fn runs(&self) -> Vec<LoggedRun> {
        let mut told = Told::default();
        for entry in &self.entries {
            match &entry.said {
                Said::Message(message) => told.take(Some(entry.at), message),
                Said::Connected(_) | Said::Lost(_) => told.link_changed(),
                Said::NotUnderstood { .. } => {}
            }
        }
        told.runs()
    }
}

#[derive(Default)]
struct Told {
    /// In the order in which they began, as far as that is known.
    runs: Vec<Partial>,
    /// Boot and number of the run under way, once somebody has said who is speaking since the link
    /// came up.
    now: Option<(u32, u32)>,
    /// The last run that was under way.
    last: Option<(u32, u32)>,
}

impl Told {
    /// The link came up or went down: whoever speaks next may have booted anew, and nobody will say any
    /// more who spoke until now.
    fn link_changed(&mut self) {
        self.now = None;
        for run in &mut self.runs {
            if run.boot == Boot::Waiting {
                run.boot = Boot::Unknown;
            }
        }
    }

    fn take(&mut self, at: Option<SystemTime>, message: &FromController) {
        let run = match message {
            FromController::Hello(hello) => self.introduced(hello),
            FromController::Alarm(Alarm { run, .. })
            | FromController::Evidence(Evidence { run, .. })
            | FromController::SnugAngle(SnugAngle { run, .. })
            | FromController::Summary(Summary { run, .. }) => self.named(*run),
            FromController::Points(_) | FromController::Thinned(_) => self.latest(),
            _ => return,
        };
        run.take(message);
        if let Some(at) = at {
            run.heard = Some([run.heard.map_or(at, |[first, _]| first), at]);
        }
    }

    /// Alarms go before the message that says who is speaking: what came without one since the link
    /// came up is of this boot, and goes to the run that it named. Points name none: they are of the run
    /// that was under way last, or else of this one.
    fn introduced(&mut self, hello: &Hello) -> &mut Partial {
        let current = (hello.boot_id, hello.run);
        let last = self.last.filter(|(boot_id, _)| *boot_id == hello.boot_id);
        let (waiting, known): (Vec<_>, Vec<_>) = std::mem::take(&mut self.runs)
            .into_iter()
            .partition(|run| run.boot == Boot::Waiting);
        self.runs = known;
        self.run(current).introduce(hello);
        for run in waiting {
            let of = match run.numbered {
                true => (hello.boot_id, nearest(hello.run, run.hello.run as u8)),
                false => last.unwrap_or(current),
            };
            self.run(of).join(run);
        }
        (self.now, self.last) = (Some(current), Some(current));
        self.run(current)
    }

    /// The run that a message names.
    fn named(&mut self, low_byte: u8) -> &mut Partial {
        let Some((boot_id, under_way)) = self.now else {
            let of_that_name = |run: &Partial| {
                run.boot == Boot::Waiting && run.numbered && run.hello.run as u8 == low_byte
            };
            return self.waiting(of_that_name, |run| {
                (run.hello.run, run.numbered) = (low_byte.into(), true);
            });
        };
        let named = (boot_id, nearest(under_way, low_byte));
        if named.1 > under_way {
            // It has begun, though the message that says so was lost.
            (self.now, self.last) = (Some(named), Some(named));
        }
        self.run(named)
    }

    /// The run that is under way.
    fn latest(&mut self) -> &mut Partial {
        match self.now {
            Some(current) => self.run(current),
            None => self.waiting(|run| run.boot == Boot::Waiting && !run.numbered, |_| ()),
        }
    }

    /// A run of which nobody has said yet of which boot it is.
    fn waiting(
        &mut self,
        which: impl Fn(&Partial) -> bool,
        name: impl Fn(&mut Partial),
    ) -> &mut Partial {
        let index = self.runs.iter().rposition(which).unwrap_or_else(|| {
            let mut run = Partial::default();
            name(&mut run);
            self.runs.push(run);
            self.runs.len() - 1
        });
        &mut self.runs[index]
    }

    /// The run of this boot and number; made in its place among those of its boot.
    fn run(&mut self, (boot_id, number): (u32, u32)) -> &mut Partial {
        let of_boot = |run: &Partial| run.boot == Boot::Known && run.hello.boot_id == boot_id;
        let is_it = |run: &Partial| of_boot(run) && run.hello.run == number;
        if let Some(index) = self.runs.iter().rposition(is_it) {
            return &mut self.runs[index];
        }
        let mut run = Partial::default();
        (run.hello.boot_id, run.hello.run) = (boot_id, number);
        (run.boot, run.numbered) = (Boot::Known, true);
        let before = |run: &Partial| of_boot(run) && run.hello.run < number;
        let index = match self.runs.iter().rposition(before) {
            Some(index) => index + 1,
            None => (self.runs.iter().position(of_boot)).unwrap_or(self.runs.len()),
        };
        self.runs.insert(index, run);
        &mut self.runs[index]
    }

    fn runs(mut self) -> Vec<LoggedRun> {
        self.drop_repeats();
        let mut before = (0, 0);
        let mut runs = Vec::new();
        for run in self.runs {
            let (boot_id, total) = (run.hello.boot_id, run.left_out_since_boot);
            let (last_boot, last_total) = before;
            let known = run.boot == Boot::Known;
            let earlier = if known && boot_id == last_boot {
                last_total
            } else {
                0
            };
            if known {
                before = (boot_id, total.max(earlier));
            }
            if !run.is_empty() {
                runs.push(run.run(total.saturating_sub(earlier)));
            }
        }
        runs
    }

    /// What is retained is sent again until it is acknowledged: a run of an unknown boot all of which a
    /// later one holds, bit for bit, is no other.
    fn drop_repeats(&mut self) {
        let mut index = 0;
        while index < self.runs.len() {
            let (to_here, later) = self.runs.split_at_mut(index + 1);
            let run = &to_here[index];
            let holder = (run.boot == Boot::Unknown && !run.is_empty())
                .then(|| later.iter_mut().find(|other| other.holds(run)))
                .flatten();
            if let Some(holder) = holder {
                holder.heard = super::partial::both(run.heard, holder.heard);
                self.runs.remove(index);
            } else {
                index += 1;
            }
        }
    }
}

/// The number with this low byte that lies nearest to another.
fn nearest(number: u32, low_byte: u8) -> u32 {
    let ahead = low_byte.wrapping_sub(number as u8) as i8;
    number
        .checked_add_signed(ahead.into())
        .unwrap_or(low_byte.into())
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn a_low_byte_names_the_nearest_run() {
        for (number, low_byte, named) in [
            (1, 1, 1),
            (1, 2, 2),
            (2, 1, 1),
            (300, 0x2D, 301),
            (256, 255, 255),
            (255, 0, 256),
            (3, 200, 200),
            (u32::MAX, 0, 0),
        ] {
            assert_eq!(nearest(number, low_byte), named);
        }
    }
}
