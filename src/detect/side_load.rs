//! A tool that levers: the moment across the bolt axis is too high for socket, head and joint.

use crate::math::Vec3;

use super::{Detection, Detector, FindingKind, Place, Quantity, SampleView};

/// Time over which the size of the moment is averaged, s: a knock passes. Not the moment itself: its
/// frame turns with the hand.
const AVERAGE_S: f32 = 0.3;
/// The moment must exceed its limit by so many standard uncertainties.
const SIGMA: f32 = 2.0;

/// Detector of side load.
#[derive(Clone, Copy, Debug)]
pub struct SideLoad {
    limit_nm: Option<f32>,
    /// The moment at the sample before and its size, N·m: it stands for some samples.
    of: Vec3,
    of_size_nm: f32,
    size_nm: f32,
    u_nm: f32,
    for_s: f32,
    found: bool,
}

impl SideLoad {
    /// `limit_nm`: moment above which the tool levers; without one nothing is found.
    pub const fn new(limit_nm: Option<f32>) -> Self {
        Self {
            limit_nm,
            of: [0.0; 3],
            of_size_nm: 0.0,
            size_nm: 0.0,
            u_nm: 0.0,
            for_s: 0.0,
            found: false,
        }
    }
}

impl Detector for SideLoad {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let (limit_nm, side) = self.limit_nm.zip(view.side)?;
        let dt_s = view.dt_s.clamp(0.0, AVERAGE_S);
        let share = dt_s / (dt_s + AVERAGE_S);
        if self.of != side.moment_nm {
            (self.of, self.of_size_nm) = (side.moment_nm, side.size_nm());
        }
        self.size_nm += (self.of_size_nm - self.size_nm) * share;
        self.u_nm += (side.u_nm - self.u_nm) * share;
        self.for_s += dt_s;
        // Until the average has settled, its uncertainty has not either.
        let settled = self.for_s > AVERAGE_S;
        if self.found || !settled || !(self.size_nm - SIGMA * self.u_nm > limit_nm) {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::SideLoad,
            quantity: Quantity::MomentNm,
            value: self.size_nm,
            limit: limit_nm,
            place: side.relief(view.tool_axis).map(Place::Relief),
            likely: None,
            runner_up: None,
        })
    }
}
