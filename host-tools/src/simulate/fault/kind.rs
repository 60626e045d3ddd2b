//! Kinds of faults, by name.

use clap::ValueEnum;

/// Every kind of [`Fault`](super::Fault) by the name of the finding that is due, and its cause where one finding
/// has several.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, ValueEnum)]
#[allow(missing_docs)] // The variants of `Fault` say what they are.
pub enum FaultKind {
    None,
    NotStarted,
    CrossThread,
    Debris,
    FalseSnug,
    Bottoming,
    MissingPart,
    Galling,
    PrevailingLow,
    PrevailingHigh,
    AlreadyTight,
    Strip,
    Yield,
    Fracture,
    SocketSlip,
    StickSlip,
    UnderTorque,
    OverTorque,
    OverAngle,
    Relaxation,
    ToolLifting,
    TurningTogether,
    Seized,
    DriveStripped,
    SensorSaturated,
    SensorFrozen,
    SensorDrift,
    SamplesStale,
    ContactElsewhere,
    SideLoad,
}

impl FaultKind {
    /// Name in snake case, as scenario files write it.
    pub fn name(self) -> String {
        let value = self.to_possible_value();
        value.map_or_else(String::new, |v| v.get_name().replace('-', "_"))
    }

    /// Whether it can befall a bolt that is done up.
    pub fn tightening(self) -> bool {
        !matches!(
            self,
            Self::TurningTogether | Self::Seized | Self::DriveStripped
        )
    }

    /// Whether it can befall a bolt that is undone.
    pub fn undoing(self) -> bool {
        use FaultKind::*;
        matches!(
            self,
            None | Galling | Fracture | TurningTogether | Seized | DriveStripped | StickSlip
        ) || self.sensing()
            || self == ToolLifting
    }

    /// Whether only the readings are wrong, or what leans on the arm.
    pub fn sensing(self) -> bool {
        use FaultKind::*;
        matches!(
            self,
            SensorSaturated
                | SensorFrozen
                | SensorDrift
                | SamplesStale
                | ContactElsewhere
                | SideLoad
        )
    }
}
