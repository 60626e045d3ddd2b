//! Magnitudes of the faults. All are common practice, no source, unless `fault/mod.rs` says
//! otherwise; ranges are wide, for nobody knows how real faults are spread.

use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, UnitSphere};

use super::super::fault::{Fault, FaultKind};
use super::super::scenario::{Direction, Locking, Mode, Scenario};
use super::super::setup::JOINTS;
use super::{bolts, log_range, reseating};

/// A fault of this kind, and the bolt and its description so that it can befall them.
pub(super) fn draw(kind: FaultKind, s: &mut Scenario, rng: &mut ChaCha8Rng) -> Fault {
    let undo = s.direction == Direction::Undo;
    match kind {
        FaultKind::None => Fault::None,
        FaultKind::NotStarted => {
            if let Mode::WristStrokes {
                back, stroke_deg, ..
            } = &mut s.mode
            {
                // A ratchet would only turn the loose bolt to and fro.
                *back = reseating(rng);
                *stroke_deg = stroke_deg.max(150.0);
            }
            Fault::NotStarted {
                drag_part: rng.random_range(0.05..0.3),
                stop_turns: rng.random_range(1.5..3.5),
            }
        }
        FaultKind::CrossThread => Fault::CrossThread {
            onset_turns: rng
                .random_range(0.1..1.5f64)
                .min(s.bolt.rundown_turns - 0.7),
            growth_turns: rng.random_range(0.5..2.0),
            growth_power: rng.random_range(1.0..1.6),
            roughness: rng.random_range(0.05..0.3),
            advance_ratio: rng.random_range(0.2..0.8),
            stop_fraction: rng.random_range(0.5..1.0),
        },
        FaultKind::Debris => Fault::Debris {
            early_turns: early(s, rng),
            slope_ratio: rng.random_range(0.2..0.7),
            roughness: rng.random_range(0.1..0.35),
        },
        FaultKind::FalseSnug => Fault::FalseSnug {
            early_turns: rng.random_range(0.4..1.2),
            height_fraction: rng.random_range(0.08..0.3),
            rise_deg: rng.random_range(5.0..30.0),
            clear_deg: rng.random_range(5.0..25.0),
        },
        FaultKind::Bottoming => {
            let softest = 2.5 * s.bolt.target_nm / s.bolt.elastic_deg.to_radians();
            Fault::Bottoming {
                early_turns: early(s, rng),
                rate_nm_per_rad: (s.tool.windup_nm_per_rad * rng.random_range(0.3..1.5))
                    .max(softest),
            }
        }
        FaultKind::MissingPart => Fault::MissingPart {
            thickness_mm: s.bolt.pitch_mm * rng.random_range(0.9..2.5),
        },
        FaultKind::Galling => {
            // A thread that binds in its first turns is told as crossed.
            lengthen(s, 3.0);
            let first = if undo { 0.3 } else { 1.6 };
            Fault::Galling {
                onset_turns: rng.random_range(first..s.bolt.rundown_turns - 0.7),
                seize_turns: rng.random_range(0.7..2.5),
                bind_fraction: rng.random_range(0.3..0.9),
                roughness: rng.random_range(0.2..0.5),
            }
        }
        FaultKind::PrevailingLow => {
            if s.bolt.locking.is_none() {
                s.bolt.locking = Some(Locking {
                    torque_nm: s.bolt.target_nm * rng.random_range(0.08..0.2),
                    entry_turns: rng.random_range(0.1..s.bolt.rundown_turns - 1.0),
                    rise_turns: rng.random_range(0.25..0.75),
                    grain: rng.random_range(0.03..0.10),
                });
                s.stated.prevailing_nm = bolts::band(&s.bolt, rng);
            }
            Fault::PrevailingLow {
                left: rng.random_range(0.0..0.15),
            }
        }
        FaultKind::PrevailingHigh => Fault::PrevailingHigh {
            torque_nm: (s.stated.prevailing_nm[1] * rng.random_range(1.3..2.5))
                .min(0.5 * s.bolt.target_nm),
            entry_turns: rng.random_range(0.1..s.bolt.rundown_turns - 1.0),
        },
        FaultKind::AlreadyTight => Fault::AlreadyTight {
            fraction: rng.random_range(0.6..1.0),
        },
        FaultKind::Strip => Fault::Strip {
            onset_fraction: rng.random_range(0.4..1.1),
            drop_deg: rng.random_range(10.0..60.0),
            plateau: rng.random_range(0.1..0.6),
            roughness: rng.random_range(0.05..0.2),
            carry_on_deg: rng.random_range(60.0..360.0),
        },
        FaultKind::Yield => Fault::Yield {
            onset_fraction: if rng.random() {
                rng.random_range(0.5..0.85)
            } else {
                rng.random_range(0.95..1.0)
            },
            carry_on_deg: rng.random_range(60.0..200.0),
        },
        FaultKind::Fracture => Fault::Fracture {
            onset_fraction: rng.random_range(0.9..1.08),
            neck_deg: if undo {
                rng.random_range(1.0..8.0)
            } else {
                rng.random_range(3.0..40.0)
            },
            drop_deg: rng.random_range(5.0..20.0),
            carry_on_deg: rng.random_range(60.0..270.0),
        },
        FaultKind::SocketSlip => Fault::SocketSlip {
            grip_fraction: rng.random_range(0.2..0.9),
            wear: rng.random_range(0.75..1.0),
            seat_deg: s.mode.seat_rad().to_degrees().round(),
            carry_on_deg: rng.random_range(130.0..360.0),
        },
        FaultKind::StickSlip => Fault::StickSlip {
            amplitude: rng.random_range(0.05..0.2),
        },
        FaultKind::UnderTorque => Fault::UnderTorque {
            stop_fraction: rng.random_range(0.5..0.85),
        },
        FaultKind::OverTorque => {
            s.bolt.yield_nm = None;
            Fault::OverTorque {
                stop_fraction: rng.random_range(1.15..1.4),
            }
        }
        FaultKind::OverAngle => Fault::OverAngle {
            soft_ratio: rng.random_range(2.3..3.5),
        },
        FaultKind::Relaxation => Fault::Relaxation {
            loss: rng.random_range(0.25..0.6),
            time_s: rng.random_range(0.3..1.0),
        },
        FaultKind::ToolLifting => Fault::ToolLifting {
            onset_turns: along(s, rng),
            speed_mm_s: log_range(1.0, 8.0, rng),
            depth_mm: 0.6 * s.bolt.diameter_mm,
        },
        FaultKind::TurningTogether => Fault::TurningTogether {
            drag_fraction: rng.random_range(0.1..0.6),
            stop_turns: rng.random_range(1.3..3.0),
        },
        FaultKind::Seized => Fault::Seized {
            limit_fraction: rng.random_range(1.1..1.6),
        },
        FaultKind::DriveStripped => Fault::DriveStripped {
            grip_fraction: rng.random_range(0.05..0.35),
            seat_deg: s.mode.seat_rad().to_degrees().round(),
            carry_on_deg: rng.random_range(130.0..500.0),
        },
        FaultKind::SensorSaturated => Fault::SensorSaturated {
            // The one that the bolt torque loads most.
            joint: JOINTS,
            limit_nm: s.bolt.target_nm * rng.random_range(0.3..if undo { 0.5 } else { 0.8 }),
        },
        FaultKind::SensorFrozen => Fault::SensorFrozen {
            joint: rng.random_range(1..=JOINTS),
            onset_turns: along(s, rng),
        },
        FaultKind::SensorDrift => {
            let joint = rng.random_range(1..=JOINTS);
            // Out of the joint's friction, within which nothing can be told, in one to five seconds.
            let friction = s.arm.coulomb_nm[joint - 1];
            let sign = if rng.random() { 1.0 } else { -1.0 };
            Fault::SensorDrift {
                joint,
                rate_nm_per_s: sign * friction * log_range(0.2, 1.0, rng),
            }
        }
        FaultKind::SamplesStale => Fault::SamplesStale {
            onset_turns: along(s, rng),
            // Real controllers pause for 35 ms; what is clearly more than that.
            gap_s: log_range(0.12, 1.0, rng),
        },
        FaultKind::ContactElsewhere => {
            let size = rng.random_range(15.0..60.0);
            let direction: [f64; 3] = UnitSphere.sample(rng);
            Fault::ContactElsewhere {
                link: rng.random_range(3..=5),
                onset_turns: along(s, rng),
                force_n: direction.map(|x| (x * size * 100.0).round() / 100.0),
            }
        }
        FaultKind::SideLoad => Fault::SideLoad {
            onset_turns: along(s, rng),
            // A tool levers once it bends the bolt as hard as it turns it.
            moment_nm: (s.bolt.target_nm * rng.random_range(1.5..3.0)).max(8.0),
            direction_deg: rng.random_range(0.0..360.0),
        },
    }
}

/// How much too early a bolt seats: clearly outside the stated window, and after the first thread.
fn early(s: &mut Scenario, rng: &mut ChaCha8Rng) -> f64 {
    lengthen(s, 2.5);
    let window = s.stated.rundown_tolerance_turns + 0.3;
    rng.random_range(window..s.bolt.rundown_turns - 0.8)
}

/// Somewhere in the rundown.
fn along(s: &Scenario, rng: &mut ChaCha8Rng) -> f64 {
    rng.random_range(0.3..s.bolt.rundown_turns - 0.3)
}

/// Makes the rundown at least so many turns, and says so in the description.
fn lengthen(s: &mut Scenario, turns: f64) {
    let more = (turns - s.bolt.rundown_turns).max(0.0);
    s.bolt.rundown_turns += more;
    s.stated.rundown_turns += more;
}
