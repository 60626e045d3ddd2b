//! A finding on its way: in brief and at once, then with all that bears it out. As in `report.rs`, a
//! type here is never changed, only replaced by a new one under a new number.

use serde::{Deserialize, Serialize};

use super::report::since;
use crate::detect::{Cause, Finding, FindingKind, Place, Quantity};

/// A finding, in brief and at once (kind 3): at most 32 bytes on the wire.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Alarm {
    /// Names this retained message until it is acknowledged.
    pub id: u8,
    /// Low byte of the run's number.
    pub run: u8,
    /// Number of the [`FindingKind`].
    pub code: u8,
    /// Time since the start of the run, µs, at most `u32::MAX` (71.6 min; [`Evidence`] has it whole).
    #[serde(with = "postcard::fixint::le")]
    pub time_us: u32,
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Bolt torque, N·m.
    pub torque_nm: f32,
    /// Standard uncertainty of that torque, N·m.
    pub torque_u_nm: f32,
}

impl Alarm {
    /// What was found; `None` if this version does not know the number.
    pub const fn kind(&self) -> Option<FindingKind> {
        FindingKind::from_wire_code(self.code)
    }
}

/// The rest of a finding (kind 14), under the id of its [`Alarm`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Evidence {
    /// Id of the alarm.
    pub id: u8,
    /// Low byte of the run's number.
    pub run: u8,
    /// Time of the sample, µs.
    pub time_us: u64,
    /// Local slope of the curve, N·m/rad.
    pub slope_nm_per_rad: f32,
    /// Standard error of that slope, N·m/rad.
    pub slope_u_nm_per_rad: f32,
    /// Axial advance per turn as a part of the pitch, and its standard uncertainty.
    pub advance_ratio: Option<(f32, f32)>,
    /// Number of the [`Quantity`] that decided.
    pub quantity: u8,
    /// Its value.
    pub value: f32,
    /// The limit it crossed, same unit.
    pub limit: f32,
    /// Joint that it points at, counted from the base, the first is 1; 0: none.
    pub joint: u8,
    /// Unit direction in the tip frame, across the tool's axis, in which the tip should move to take
    /// the load off.
    pub relief: Option<[f32; 3]>,
    /// Number of the [`Cause`] that most likely stands behind it.
    pub likely: Option<u8>,
    /// Number of the cause that the evidence would fit, too.
    pub runner_up: Option<u8>,
}

impl Evidence {
    /// Alarm and evidence for a finding.
    pub fn split(finding: &Finding, id: u8, run: u32, run_start_us: u64) -> (Alarm, Self) {
        let run = run as u8;
        let alarm = Alarm {
            id,
            run,
            code: finding.kind.wire_code(),
            time_us: since(run_start_us, finding.time_us),
            angle_rad: finding.angle_rad,
            torque_nm: finding.torque_nm,
            torque_u_nm: finding.torque_u_nm,
        };
        let evidence = Self {
            id,
            run,
            time_us: finding.time_us,
            slope_nm_per_rad: finding.slope_nm_per_rad,
            slope_u_nm_per_rad: finding.slope_u_nm_per_rad,
            advance_ratio: finding.advance_ratio,
            quantity: finding.quantity.wire_code(),
            value: finding.value,
            limit: finding.limit,
            joint: match finding.place {
                Some(Place::Joint(joint)) => joint,
                _ => 0,
            },
            relief: match finding.place {
                Some(Place::Relief(direction)) => Some(direction),
                _ => None,
            },
            likely: finding.likely.map(Cause::wire_code),
            runner_up: finding.runner_up.map(Cause::wire_code),
        };
        (alarm, evidence)
    }

    fn place(&self) -> Option<Place> {
        let relief = self.relief.map(Place::Relief);
        relief.or((self.joint > 0).then_some(Place::Joint(self.joint)))
    }

    /// The finding that `alarm` and this evidence describe; `None` if they do not belong together
    /// or this version does not know a number in them.
    pub fn join(&self, alarm: &Alarm) -> Option<Finding> {
        if (self.id, self.run) != (alarm.id, alarm.run) {
            return None;
        }
        Some(Finding {
            kind: alarm.kind()?,
            time_us: self.time_us,
            angle_rad: alarm.angle_rad,
            torque_nm: alarm.torque_nm,
            torque_u_nm: alarm.torque_u_nm,
            slope_nm_per_rad: self.slope_nm_per_rad,
            slope_u_nm_per_rad: self.slope_u_nm_per_rad,
            advance_ratio: self.advance_ratio,
            quantity: Quantity::from_wire_code(self.quantity)?,
            value: self.value,
            limit: self.limit,
            place: self.place(),
            // A cause that this version does not know takes nothing from the finding.
            likely: self.likely.and_then(Cause::from_wire_code),
            runner_up: self.runner_up.and_then(Cause::from_wire_code),
        })
    }
}

/// [`Evidence`] as it was said before it pointed anywhere (kind 11). Still read, no longer said.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs, reason = "each field is described in Evidence")]
pub struct EvidenceWithoutPlace {
    pub id: u8,
    pub run: u8,
    pub time_us: u64,
    pub slope_nm_per_rad: f32,
    pub slope_u_nm_per_rad: f32,
    pub advance_ratio: Option<(f32, f32)>,
    pub quantity: u8,
    pub value: f32,
    pub limit: f32,
    pub likely: Option<u8>,
    pub runner_up: Option<u8>,
}

impl From<EvidenceWithoutPlace> for Evidence {
    fn from(e: EvidenceWithoutPlace) -> Self {
        Self {
            id: e.id,
            run: e.run,
            time_us: e.time_us,
            slope_nm_per_rad: e.slope_nm_per_rad,
            slope_u_nm_per_rad: e.slope_u_nm_per_rad,
            advance_ratio: e.advance_ratio,
            quantity: e.quantity,
            value: e.value,
            limit: e.limit,
            joint: 0,
            relief: None,
            likely: e.likely,
            runner_up: e.runner_up,
        }
    }
}

/// [`Evidence`] as it was said before causes were named (kind 4). Still read, no longer said.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[allow(missing_docs, reason = "each field is described in Evidence")]
pub struct EarlierEvidence {
    pub id: u8,
    pub run: u8,
    pub time_us: u64,
    pub slope_nm_per_rad: f32,
    pub slope_u_nm_per_rad: f32,
    pub advance_ratio: Option<(f32, f32)>,
    pub quantity: u8,
    pub value: f32,
    pub limit: f32,
}

impl From<EarlierEvidence> for Evidence {
    fn from(e: EarlierEvidence) -> Self {
        EvidenceWithoutPlace {
            id: e.id,
            run: e.run,
            time_us: e.time_us,
            slope_nm_per_rad: e.slope_nm_per_rad,
            slope_u_nm_per_rad: e.slope_u_nm_per_rad,
            advance_ratio: e.advance_ratio,
            quantity: e.quantity,
            value: e.value,
            limit: e.limit,
            likely: None,
            runner_up: None,
        }
        .into()
    }
}
