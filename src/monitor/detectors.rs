//! All detectors of a run.

use crate::detect::{
    Detection, Detector, GivingWay, JointsDisagree, OverAngle, OverTorque, Relaxation, Rundown,
    SampleView, SamplesStale, SensorDrift, SensorFrozen, SensorSaturated, SideLoad, StepView,
    StickSlip, Swing, ToolLifting, TorqueNotObservable, UndoExpected, Undoing,
};
use crate::fastener::ExpectedRun;
use crate::procedure::{BoltJob, Direction, Goal};

/// Detections that may wait for their turn: one is said with each sample.
const WAITING: usize = 8;

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
    undoing: Undoing,
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
            undoing: Undoing::new(&undo_expected(job, expected)),
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

    /// Shows all that fit the direction a completed step.
    pub fn on_step(&mut self, view: &StepView<'_>) {
        self.ask(|d| d.on_step(view));
    }

    /// Shows all a sample.
    pub fn on_sample(&mut self, view: &SampleView<'_>) {
        self.ask(|d| d.on_sample(view));
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

    fn ask(&mut self, question: impl Fn(&mut dyn Detector) -> Option<Detection>) {
        let fitting: &mut [&mut dyn Detector] = match self.direction {
            Direction::Tighten => &mut [
                &mut self.rundown,
                &mut self.giving_way,
                &mut self.over_torque,
                &mut self.over_angle,
                &mut self.relaxation,
            ],
            Direction::Undo => &mut [&mut self.undoing],
        };
        let both: [&mut dyn Detector; 9] = [
            &mut self.stick_slip,
            &mut self.tool_lifting,
            &mut self.stale,
            &mut self.saturated,
            &mut self.frozen,
            &mut self.not_observable,
            &mut self.disagree,
            &mut self.drift,
            &mut self.side_load,
        ];
        let found = fitting
            .iter_mut()
            .map(|d| &mut **d)
            .chain(both)
            .filter_map(question);
        for detection in found {
            Self::wait(&mut self.waiting, detection);
            self.any_waits = true;
        }
    }
}

fn undo_expected(job: &BoltJob, expected: &ExpectedRun) -> UndoExpected {
    let elastic_rad = expected.elastic_rad.map(|band| band.middle());
    let (recorded_nm, run_out_rad) = match job.goal {
        Goal::Loosen {
            recorded_nm,
            run_out_rad,
            ..
        } => (recorded_nm, run_out_rad),
        _ => (None, None),
    };
    UndoExpected {
        recorded_nm,
        free_rad: run_out_rad.map(|e| e.value).or(job
            .rundown_rad
            .map(|turns| turns.value + elastic_rad.unwrap_or(0.0))),
        elastic_rad,
        least_drag_nm: expected.floor_nm,
    }
}
