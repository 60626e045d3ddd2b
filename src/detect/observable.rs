//! The pose in which the joints cannot tell the bolt torque.

use super::{Detection, Detector, FindingKind, Quantity, SampleView};

/// Time for which it must last, s: passing through such a pose is no finding.
const LASTING_S: f32 = 0.2;

/// Detector of poses in which the bolt torque is not observable.
#[derive(Clone, Copy, Debug)]
pub struct TorqueNotObservable {
    limit_nm: f32,
    for_s: f32,
    found: bool,
}

impl TorqueNotObservable {
    /// `limit_nm`: the standard uncertainty above which a torque counts as not observable.
    pub const fn new(limit_nm: f32) -> Self {
        Self {
            limit_nm,
            for_s: 0.0,
            found: false,
        }
    }
}

impl Detector for TorqueNotObservable {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        if view.torque.observable || view.paused {
            self.for_s = 0.0;
            return None;
        }
        self.for_s += view.dt_s;
        if self.found || self.for_s < LASTING_S {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::TorqueNotObservable,
            quantity: Quantity::UncertaintyNm,
            value: view.torque.u_nm(),
            limit: self.limit_nm,
            place: None,
            likely: None,
            runner_up: None,
        })
    }
}
