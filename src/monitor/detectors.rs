//! All detectors of a run.

use crate::detect::{
    CrossThread, Detection, Detector, JointsDisagree, SampleView, SamplesStale, SensorDrift,
    SensorFrozen, SensorSaturated, SideLoad, StepView, Strip, TorqueNotObservable,
};

/// All detectors, asked in order of what they can prevent.
#[derive(Clone, Debug)]
pub(super) struct Detectors {
    cross_thread: CrossThread,
    strip: Strip,
    not_observable: TorqueNotObservable,
    disagree: JointsDisagree,
    stale: SamplesStale,
    saturated: SensorSaturated,
    frozen: SensorFrozen,
    drift: SensorDrift,
    side_load: SideLoad,
}

impl Detectors {
    pub fn new(observable_u_nm: f32, side_limit_nm: Option<f32>) -> Self {
        Self {
            cross_thread: CrossThread::default(),
            strip: Strip::default(),
            not_observable: TorqueNotObservable::new(observable_u_nm),
            disagree: JointsDisagree::default(),
            stale: SamplesStale::default(),
            saturated: SensorSaturated::default(),
            frozen: SensorFrozen::default(),
            drift: SensorDrift::default(),
            side_load: SideLoad::new(side_limit_nm),
        }
    }

    fn all(&mut self) -> [&mut dyn Detector; 9] {
        [
            &mut self.cross_thread,
            &mut self.strip,
            // Seen in one sample only: before what lasts.
            &mut self.stale,
            &mut self.saturated,
            &mut self.frozen,
            &mut self.not_observable,
            &mut self.disagree,
            &mut self.drift,
            &mut self.side_load,
        ]
    }

    pub fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.all()
            .into_iter()
            .fold(None, |found, d| found.or(d.on_step(view)))
    }

    /// The first detection; who comes after it looks at the next sample again, so that none is lost.
    pub fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        self.all().into_iter().find_map(|d| d.on_sample(view))
    }
}
