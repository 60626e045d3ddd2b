//! What a detector says, with the evidence it says it on.

use serde::{Deserialize, Serialize};

/// What was found. The order is the wire order: append only, never reorder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum FindingKind {
    /// Torque rises where the thread should still run freely: it has most likely started crossed.
    CrossThread,
    /// Torque falls while the bolt goes on turning: the thread is most likely shearing.
    Strip,
    /// In this pose the joints cannot tell the bolt torque.
    TorqueNotObservable,
    /// The joint torques contradict each other: contact elsewhere on the arm, or a faulty sensor.
    JointsDisagree,
}

impl FindingKind {
    /// Name in snake case, as the host writes it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CrossThread => "cross_thread",
            Self::Strip => "strip",
            Self::TorqueNotObservable => "torque_not_observable",
            Self::JointsDisagree => "joints_disagree",
        }
    }

    /// Whether turning on would do harm, so that the permit is withdrawn.
    pub const fn stops(self) -> bool {
        matches!(self, Self::CrossThread | Self::Strip)
    }
}

/// The quantity that crossed its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Quantity {
    /// Bolt torque above a ceiling, N·m.
    TorqueNm,
    /// Fall of torque below the highest carried so far, N·m.
    DropNm,
    /// Standard uncertainty of the bolt torque, N·m.
    UncertaintyNm,
    /// Weighted sum of squares of what the wrench leaves unexplained, in units of its expectation.
    ResidualRatio,
}

/// A finding, made once, at the sample at which its limit was crossed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Finding {
    /// What it is.
    pub kind: FindingKind,
    /// Time of the sample, µs.
    pub time_us: u64,
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Bolt torque, N·m, averaged over the last angle step.
    pub torque_nm: f32,
    /// Standard uncertainty of that torque, N·m.
    pub torque_u_nm: f32,
    /// Local slope of the curve, N·m/rad.
    pub slope_nm_per_rad: f32,
    /// Standard error of that slope, N·m/rad.
    pub slope_u_nm_per_rad: f32,
    /// Axial advance per turn as a part of the pitch (1: a straight thread), with its standard
    /// uncertainty; `None` where the arm does not tell it.
    pub advance_ratio: Option<(f32, f32)>,
    /// The quantity that decided.
    pub quantity: Quantity,
    /// Its value.
    pub value: f32,
    /// The limit it crossed, same unit.
    pub limit: f32,
}

impl Finding {
    /// Whether turning on would do harm, so that the permit is withdrawn.
    pub const fn stops(&self) -> bool {
        self.kind.stops()
    }
}
