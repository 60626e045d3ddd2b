//! All detectors of a run.

use crate::detect::{
    Detection, Detector, FindingKind, GivingWay, JointsDisagree, OverAngle, OverTorque, Relaxation,
    Rundown, SampleView, SamplesStale, SensorDrift, SensorFrozen, SensorSaturated, SideLoad,
    StepView, StickSlip, Swing, ToolLifting, TorqueNotObservable, UndoExpected, Undoing,
};
use crate::fastener::ExpectedRun;
use crate::parts::IfUndoing;
use crate::procedure::{BoltJob, Direction, Goal};

use super::turns::Load;

/// Detections that may wait for their turn: one is said with each sample.
const WAITING: usize = 8;

/// Those who look at a completed step with the same sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Group {
    /// Done up: thread and seat, ...
    Rundown,
    /// ... then whether the torque falls, and whether it rises as it did, in two parts; with the last the
    /// limits of the goal, ...
    Rise,
    Slopes,
    /// ... then what does not stop.
    Rest,
    /// Undone: all.
    Undoing,
}

impl Group {
    /// Who looks with the sample after.
    pub const fn next(self) -> Option<Self> {
        match self {
            Self::Rundown => Some(Self::Rise),
            Self::Rise => Some(Self::Slopes),
            Self::Slopes => Some(Self::Rest),
            Self::Rest | Self::Undoing => None,
        }
    }

    /// What a sample bears with which this looks.
    pub const fn load(self) -> Load {
        match self {
            Self::Rise | Self::Slopes => Load::Most,
            _ => Load::Some,
        }
    }
}

/// All detectors, and what they have found but not yet said.
#[derive(Clone, Debug)]
pub(super) struct Detectors {
    direction: Direction,
    rundown: Rundown,
    giving_way: GivingWay,
    over_torque: OverTorque,
    over_angle: OverAngle,
    stick_slip: StickSlip,
    relaxation: Relaxation,
    tool_lifting: ToolLifting,
    undoing: IfUndoing<Undoing>,
    not_observable: TorqueNotObservable,
    disagree: JointsDisagree,
    stale: SamplesStale,
    saturated: SensorSaturated,
    frozen: SensorFrozen,
    drift: SensorDrift,
    side_load: SideLoad,
    waiting: [Option<Detection>; WAITING],
    /// Hardly ever: spares every sample a look at all places.
    any_waits: bool,
}

impl Detectors {
    // With all parts built in there is nothing to convert.
    #[allow(clippy::useless_conversion)]
    pub fn new(job: &BoltJob, expected: &ExpectedRun, observable_u_nm: f32) -> Self {
        Self {
            direction: job.goal.direction(),
            rundown: Rundown::default(),
            giving_way: GivingWay::default(),
            over_torque: OverTorque::default(),
            over_angle: OverAngle::new(&job.goal),
            stick_slip: StickSlip::default(),
            relaxation: Relaxation::new(job.tool.windup_nm_per_rad),
            tool_lifting: ToolLifting::new(job.goal.direction()),
            undoing: Some(Undoing::new(&undo_expected(job, expected))).into(),
            not_observable: TorqueNotObservable::new(observable_u_nm),
            disagree: JointsDisagree::default(),
            stale: SamplesStale::default(),
            saturated: SensorSaturated::default(),
            frozen: SensorFrozen::default(),
            drift: SensorDrift::default(),
            side_load: SideLoad::new(job.side_moment_limit_nm()),
            waiting: [None; WAITING],
            any_waits: false,
        }
    }

    /// Envelope of the torque where the bolt turns in jerks.
    pub fn swing(&self) -> Option<Swing> {
        self.stick_slip.swing()
    }

    /// Torque at which the yield that was said began, N·m.
    pub fn yield_onset_nm(&self) -> Option<f32> {
        self.giving_way.yield_onset_nm()
    }

    /// Who looks at a completed step first: what may stop.
    pub const fn first(&self) -> Group {
        match self.direction {
            Direction::Tighten => Group::Rundown,
            Direction::Undo => Group::Undoing,
        }
    }

    /// Whether the slope leaves open that the bolt yields below its window.
    pub fn yield_in_doubt(&self) -> bool {
        self.giving_way.yield_in_doubt()
    }

    /// Torque that the held bolt has lost since it last turned, N·m, where relaxation was found.
    pub fn lost_nm(&self) -> Option<f32> {
        self.relaxation.lost_nm()
    }

    /// Whether an undone bolt drags on at more than its thread may take, and was not seen to come out.
    pub fn run_out_in_doubt(&self) -> bool {
        self.direction == Direction::Undo
            && (self.undoing.as_ref()).is_some_and(Undoing::run_out_in_doubt)
    }

    /// Shows a group a completed step.
    pub fn on_step(&mut self, group: Group, view: &StepView<'_>) {
        let found = match group {
            Group::Rundown => [self.rundown.on_step(view), None, None],
            Group::Rise => {
                let failed = self.giving_way.look_at_fall(view);
                self.giving_way.look_at_rise(view);
                [failed, None, None]
            }
            Group::Slopes => {
                let mut gives = self.giving_way.look_at_slopes(view);
                let too_far = self.over_angle.on_step(view);
                if gives.is_none() && too_far.is_some_and(|d| d.kind == FindingKind::OverAngle) {
                    gives = self.giving_way.explain_angle(view);
                }
                [gives, self.over_torque.on_step(view), too_far]
            }
            Group::Rest => [self.tool_lifting.on_step(view), None, None],
            Group::Undoing => [
                self.undoing.as_mut().and_then(|u| u.on_step(view)),
                self.tool_lifting.on_step(view),
                None,
            ],
        };
        self.hear(found);
    }

    /// Shows all that fit the direction a sample.
    pub fn on_sample(&mut self, view: &SampleView<'_>) {
        let fitting = match self.direction {
            Direction::Tighten => [
                self.rundown.on_sample(view),
                self.giving_way.on_sample(view),
                self.relaxation.on_sample(view),
                self.over_torque.on_sample(view),
            ],
            Direction::Undo => [
                self.undoing.as_mut().and_then(|u| u.on_sample(view)),
                None,
                None,
                None,
            ],
        };
        self.hear(fitting);
        let both = [
            self.stick_slip.on_sample(view),
            self.stale.on_sample(view),
            self.saturated.on_sample(view),
            self.frozen.on_sample(view),
            self.not_observable.on_sample(view),
            self.disagree.on_sample(view),
            self.drift.on_sample(view),
            self.side_load.on_sample(view),
        ];
        self.hear(both);
    }

    /// Shows a sample of a load that has just changed: of it nothing is judged but when it came.
    pub fn on_settling(&mut self, view: &SampleView<'_>) {
        let found = [self.stale.on_sample(view)];
        self.hear(found);
    }

    /// What is to be said next: a stop before anything else.
    pub fn next(&mut self) -> Option<Detection> {
        if !core::mem::take(&mut self.any_waits) {
            return None;
        }
        self.any_waits = self.waiting.iter().filter(|w| w.is_some()).count() > 1;
        let stops = |waiting: &&mut Option<Detection>| waiting.is_some_and(|d| d.kind.stops());
        match self.waiting.iter_mut().find(stops) {
            Some(stop) => stop.take(),
            None => self.waiting.iter_mut().find_map(Option::take),
        }
    }

    /// Where all places are taken, a stop takes the place of what does not stop; there are more
    /// places than findings that come together.
    fn wait(waiting: &mut [Option<Detection>; WAITING], detection: Detection) {
        let stops = detection.kind.stops();
        let free = |w: &&mut Option<Detection>| w.is_none_or(|d| stops && !d.kind.stops());
        let empty = waiting.iter().any(Option::is_none);
        let place = if empty {
            waiting.iter_mut().find(|w| w.is_none())
        } else {
            waiting.iter_mut().find(free)
        };
        if let Some(place) = place {
            *place = Some(detection);
        }
    }

    fn hear<const K: usize>(&mut self, found: [Option<Detection>; K]) {
        if found.iter().any(Option::is_some) {
            for detection in found.into_iter().flatten() {
                Self::wait(&mut self.waiting, detection);
            }
            self.any_waits = true;
        }
    }
}

fn undo_expected(job: &BoltJob, expected: &ExpectedRun) -> UndoExpected {
    let elastic_rad = expected.elastic_rad.map(|band| band.middle());
    let (recorded_nm, breakaway_nm, run_out_rad) = match job.goal {
        Goal::Loosen {
            recorded_nm,
            breakaway_nm,
            run_out_rad,
        } => (recorded_nm, breakaway_nm, run_out_rad),
        _ => (None, None, None),
    };
    UndoExpected {
        recorded_nm,
        breakaway_max_nm: breakaway_nm.map(|band| band.max),
        free_rad: run_out_rad.map(|e| e.value).or(job
            .rundown_rad
            .map(|turns| turns.value + elastic_rad.unwrap_or(0.0))),
        quickest_rad: expected.elastic_rad.map(|band| band.min),
        least_drag_nm: expected.floor_nm,
    }
}
