//! Samples that stopped coming. Said with the sample that ends the gap; while nothing comes at all,
//! [`Monitor::silence`](crate::monitor::Monitor::silence) says it.

use super::{Detection, Detector, FindingKind, Quantity, SampleView};

/// Detector of gaps in the samples.
#[derive(Clone, Copy, Debug, Default)]
pub struct SamplesStale {
    found: bool,
}

impl SamplesStale {
    /// The detection of a gap that is too long, s; both limits and gaps may be any number.
    pub fn in_gap(gap_s: f32, limit_s: f32) -> Option<Detection> {
        (gap_s > limit_s).then_some(Detection {
            kind: FindingKind::SamplesStale,
            quantity: Quantity::DurationS,
            value: gap_s,
            limit: limit_s,
            place: None,
            likely: None,
            runner_up: None,
        })
    }
}

impl Detector for SamplesStale {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let detection = Self::in_gap(view.dt_s, view.stale_after_s).filter(|_| !self.found);
        self.found |= detection.is_some();
        detection
    }
}
