//! All detectors of a run.

use crate::detect::{
    CrossThread, Detection, Detector, JointsDisagree, SampleView, StepView, Strip,
    TorqueNotObservable,
};

/// All detectors, asked in order of what they can prevent.
#[derive(Clone, Debug)]
pub(super) struct Detectors {
    cross_thread: CrossThread,
    strip: Strip,
    not_observable: TorqueNotObservable,
    disagree: JointsDisagree,
}

impl Detectors {
    pub fn new(observable_u_nm: f32) -> Self {
        Self {
            cross_thread: CrossThread::default(),
            strip: Strip::default(),
            not_observable: TorqueNotObservable::new(observable_u_nm),
            disagree: JointsDisagree::default(),
        }
    }

    fn all(&mut self) -> [&mut dyn Detector; 4] {
        [
            &mut self.cross_thread,
            &mut self.strip,
            &mut self.not_observable,
            &mut self.disagree,
        ]
    }

    pub fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.all()
            .into_iter()
            .fold(None, |found, d| found.or(d.on_step(view)))
    }

    pub fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        self.all()
            .into_iter()
            .fold(None, |found, d| found.or(d.on_sample(view)))
    }
}
