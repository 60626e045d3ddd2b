//! The control half: what must happen at every sample, and nothing that could wait.

use bolting_monitor::device::PermitOutput;
use bolting_monitor::monitor::Update;
use bolting_monitor::procedure::Snug;
use bolting_monitor::wire::{Cycle, Sample};

use crate::board::PermitPin;
use crate::session::Session;

/// The one place for a run. A monitor is large, so it stays where it is and its place changes hands:
/// the desk makes the run in it, control drives it, the desk sums it up.
pub type Slot = &'static mut Option<Session>;

/// What the desk asks of control, in the order in which the host asked.
pub enum Request {
    /// Take in a sample.
    Sample(Sample),
    /// Drive this run from the next sample on.
    Begin(Slot),
    /// Say where the run has its snug point so far.
    TellSnug,
    /// End the run and hand it back.
    Finish,
    /// Lift the latch of the permit.
    LiftStop,
}

/// What control tells the desk.
pub enum Report {
    /// A sample went through the monitor.
    Updated {
        /// What it changed.
        update: Update,
        /// The permit pin behind this sample, read back.
        permitted: bool,
        /// Whether the permit was given or withdrawn at this sample.
        permit_changed: bool,
    },
    /// A sample came outside a run, or with other joints than the run's.
    Unused {
        /// Its time, µs.
        time_us: u64,
        /// The permit pin behind this sample, read back.
        permitted: bool,
        /// Whether it cost a permit: what does not fit tells nothing of the bolt.
        permit_changed: bool,
    },
    /// How the control loop fares, where there is one.
    Cycle(Cycle),
    /// The snug point as far as it is known.
    Snug(Option<Snug>),
    /// The run has ended.
    Ended(Slot),
    /// There was no run to end.
    NoRun,
}

impl Report {
    /// Whether this report may be left out: it says where the curve runs, and the next says more.
    pub const fn is_plain(&self) -> bool {
        match self {
            Self::Updated {
                update,
                permit_changed,
                ..
            } => update.finding.is_none() && !update.snug_seen && !*permit_changed,
            Self::Unused { permit_changed, .. } => !*permit_changed,
            Self::Cycle(_) => true,
            Self::Snug(_) | Self::Ended(_) | Self::NoRun => false,
        }
    }

    /// Whether this tells of a stop.
    pub const fn is_stop(&self) -> bool {
        match self {
            Self::Updated { update, .. } => match &update.finding {
                Some(finding) => finding.stops(),
                None => false,
            },
            _ => false,
        }
    }
}

/// The control half.
pub struct Control {
    permit: PermitOutput<PermitPin>,
    run: Option<Slot>,
    samples_came: bool,
}

impl Control {
    /// Without a run.
    pub const fn new(permit: PermitOutput<PermitPin>) -> Self {
        Self {
            permit,
            run: None,
            samples_came: false,
        }
    }

    /// Follows one request at once; the permit pin is driven before this returns.
    pub fn follow(&mut self, request: Request) -> Option<Report> {
        match request {
            Request::Sample(sample) => Some(self.sample(&sample)),
            Request::Begin(slot) => {
                self.rest();
                self.run.replace(slot).map(Report::Ended)
            }
            Request::TellSnug => {
                let run = self.run.as_ref().and_then(|slot| slot.as_ref());
                Some(Report::Snug(run.and_then(Session::snug_point)))
            }
            Request::Finish => {
                self.rest();
                Some(self.run.take().map_or(Report::NoRun, Report::Ended))
            }
            Request::LiftStop => {
                self.permit.reset();
                None
            }
        }
    }

    fn sample(&mut self, sample: &Sample) -> Report {
        let before = self.permit.is_permitted();
        let run = self.run.as_mut().and_then(|slot| slot.as_mut());
        let Some(update) = run.and_then(|run| run.update(sample)) else {
            // Nobody watched over this sample, and it must not pass for one that was watched.
            if before {
                self.rest();
            }
            return Report::Unused {
                time_us: sample.time_us,
                permitted: PermitPin::is_high(),
                permit_changed: before,
            };
        };
        self.samples_came = true;
        // The permit first: no message is worth a turn of a stripping bolt. A pin error has latched
        // the permit already and shows in the heartbeat.
        let _ = self.permit.follow(&update);
        Report::Updated {
            update,
            permitted: PermitPin::is_high(),
            permit_changed: self.permit.is_permitted() != before,
        }
    }

    /// To be called every 100 ms of the board's clock: without samples that the run could use since the
    /// last call there is no permit, until one comes.
    pub fn check_samples_come(&mut self) {
        if !core::mem::take(&mut self.samples_came) && self.permit.is_permitted() {
            self.rest();
        }
    }

    fn rest(&mut self) {
        // An error has latched the permit already.
        let _ = self.permit.rest();
    }
}
