//! The parts that meet: bolt with the faults of its parts, and what clamps it.

use std::f64::consts::TAU;

use super::fault::Fault;
use super::scenario::{Bolt, Direction, Locking, Scenario};

/// The bolt as it really is: faults of its parts put in.
pub(super) fn as_it_is(scenario: &Scenario) -> Bolt {
    let mut bolt = scenario.bolt.clone();
    match &scenario.fault {
        Fault::MissingPart { thickness_mm } => bolt.rundown_turns += thickness_mm / bolt.pitch_mm,
        Fault::OverAngle { soft_ratio } => {
            bolt.elastic_deg = soft_ratio * scenario.stated.elastic_deg;
        }
        Fault::PrevailingLow { left } => {
            if let Some(locking) = &mut bolt.locking {
                locking.torque_nm *= left;
            }
        }
        Fault::PrevailingHigh {
            torque_nm,
            entry_turns,
        } => {
            bolt.locking = Some(Locking {
                torque_nm: *torque_nm,
                entry_turns: *entry_turns,
                rise_turns: 0.4,
                grain: 0.06,
            });
        }
        Fault::Yield { onset_fraction, .. } => {
            bolt.yield_nm = Some(onset_fraction * bolt.target_nm);
        }
        Fault::Fracture { onset_fraction, .. } if scenario.direction == Direction::Tighten => {
            bolt.yield_nm = Some(onset_fraction * bolt.target_nm);
        }
        _ => {}
    }
    bolt
}

/// A straight line through 0 that begins with a quadratic toe from `-toe` to `toe`.
pub(super) fn toed(x: f64, toe: f64) -> f64 {
    if x <= -toe {
        0.0
    } else if x < toe {
        (x + toe) * (x + toe) / (4.0 * toe)
    } else {
        x
    }
}

/// Torque per preload, m: `T = F (P/2pi + mu (0.577 d2 + Db/2))` (ISO 16047 form, from memory),
/// with the pitch diameter of ISO 724 and a mean head diameter of 1.3 d.
pub(super) fn moment_arms(diameter_mm: f64, pitch_mm: f64, friction: f64) -> [f64; 2] {
    let pitch_diameter = diameter_mm - 0.6495 * pitch_mm;
    [
        pitch_mm * 1e-3 / TAU,
        friction * 1e-3 * (0.577 * pitch_diameter + 0.65 * diameter_mm),
    ]
}
