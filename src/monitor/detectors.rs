//! All detectors of a run.

use crate::detect::{
    CrossThread, Detection, Detector, JointsDisagree, SampleView, StepView, Strip,
    TorqueNotObservable, UndoExpected, Undoing,
};
use crate::procedure::{BoltJob, Direction};

/// All detectors, asked in order of what they can prevent.
#[derive(Clone, Debug)]
pub(super) struct Detectors {
    direction: Direction,
    cross_thread: CrossThread,
    strip: Strip,
    undoing: Undoing,
    not_observable: TorqueNotObservable,
    disagree: JointsDisagree,
}

impl Detectors {
    pub fn new(job: &BoltJob, observable_u_nm: f32) -> Self {
        Self {
            direction: job.direction,
            cross_thread: CrossThread::default(),
            strip: Strip::default(),
            undoing: Undoing::new(&UndoExpected {
                recorded_nm: job.target_torque_nm,
                free_rad: job
                    .rundown_rad
                    .map(|turns| turns.value + job.elastic_rad.map_or(0.0, |e| e.value)),
                elastic_rad: job.elastic_rad.map(|elastic| elastic.value),
                least_drag_nm: job.prevailing_nm.map_or(0.0, |band| band.min),
            }),
            not_observable: TorqueNotObservable::new(observable_u_nm),
            disagree: JointsDisagree::default(),
        }
    }

    /// Asks those that fit the direction, then those that fit both; gives the first answer.
    fn ask(
        &mut self,
        question: impl Fn(&mut dyn Detector) -> Option<Detection>,
    ) -> Option<Detection> {
        let fitting: &mut [&mut dyn Detector] = match self.direction {
            Direction::Tighten => &mut [&mut self.cross_thread, &mut self.strip],
            Direction::Undo => &mut [&mut self.undoing],
        };
        let both: [&mut dyn Detector; 2] = [&mut self.not_observable, &mut self.disagree];
        fitting
            .iter_mut()
            .map(|d| &mut **d)
            .chain(both)
            .fold(None, |found, d| found.or(question(d)))
    }

    pub fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.ask(|d| d.on_step(view))
    }

    pub fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        self.ask(|d| d.on_sample(view))
    }
}
