//! A seized bolt: the torque has reached its limit and the bolt does not move.

use super::super::{Cause, Detection, FindingKind, Quantity, SampleView};
use crate::wrench::AxialTorque;

/// Limit as a part of the recorded tightening torque. At the friction of its tightening a bolt breaks
/// loose at 0.65 to 0.8 of that torque (long form of the torque–preload relation, M8 to M20, friction
/// 0.10 to 0.14); one that stands against all of it has gained friction since.
const LIMIT_PART: f32 = 1.0;
/// Time at the limit without motion, s (common practice, no source): more than a spike of the reading.
const LASTING_S: f32 = 0.02;

/// A stated highest torque must be exceeded by so many standard uncertainties, for a sound bolt may well
/// take that (JCGM 106, 8.3: guarded rejection).
const SIGMA: f32 = 2.0;

/// Detector of seized bolts. Where neither a recorded tightening torque nor a highest one for breaking
/// loose is known there is no limit, and it is silent.
#[derive(Clone, Copy, Debug)]
pub struct Seized {
    recorded_nm: Option<f32>,
    breakaway_max_nm: Option<f32>,
    for_s: f32,
    found: bool,
}

impl Seized {
    /// From the recorded tightening torque and the highest at which it may break loose, N·m: what is
    /// stated to be in order does not stop.
    pub fn new(recorded_nm: Option<f32>, breakaway_max_nm: Option<f32>) -> Self {
        Self {
            recorded_nm,
            breakaway_max_nm,
            for_s: 0.0,
            found: false,
        }
    }

    /// The bolt has turned by a step.
    pub fn moved(&mut self) {
        self.for_s = 0.0;
    }

    /// Looks at a sample.
    pub fn look(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let torque = view.torque;
        if self.found || !torque.observable {
            return None;
        }
        let limit = self.limit_nm(torque)?;
        // Noise around the limit: time above it counts, time below it counts back.
        let dt_s = view.dt_s.max(0.0);
        let change_s = if torque.value_nm >= limit {
            dt_s
        } else {
            -dt_s
        };
        self.for_s = (self.for_s + change_s).max(0.0);
        if self.for_s < LASTING_S {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::Seized,
            quantity: Quantity::TorqueNm,
            value: torque.value_nm,
            limit,
            place: None,
            likely: Some(Cause::GallingThread),
            runner_up: Some(Cause::AlreadyTight),
        })
    }

    /// The highest of what is known, N·m.
    fn limit_nm(&self, torque: &AxialTorque) -> Option<f32> {
        let recorded_nm = self.recorded_nm.map(|torque| LIMIT_PART * torque);
        let stated_nm = self.breakaway_max_nm.map(|most| {
            // Most samples: no root to be taken.
            let above = torque.value_nm > most;
            most + if above { SIGMA * torque.u_nm() } else { 0.0 }
        });
        match (recorded_nm, stated_nm) {
            (Some(recorded), Some(stated)) => Some(recorded.max(stated)),
            (recorded, stated) => recorded.or(stated),
        }
    }
}
