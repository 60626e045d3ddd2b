//! Which faults can befall this bolt in this direction, and how grave they are drawn.

use bolting_monitor::fastener::Locking;
use bolting_monitor::procedure::{Direction as Way, Goal, Mode as Turning};
use clap::ValueEnum;
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::draw::Rehearsed;
use crate::simulate::{Fault, FaultKind, JOINTS, Mode, Scenario, fault_of};

/// What is put into a bolt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Ill {
    /// One of the simulator's faults.
    Fault(FaultKind),
    /// A checked bolt that has lost much of its torque.
    Lost,
}

impl Ill {
    /// Name in snake case.
    pub fn name(self) -> String {
        match self {
            Self::Fault(kind) => kind.name(),
            Self::Lost => "lost_torque".to_owned(),
        }
    }

    /// In the trade's words.
    pub fn words(self) -> &'static str {
        use FaultKind::*;
        match self {
            Self::Lost => "bolt that lost its torque",
            Self::Fault(kind) => match kind {
                FaultKind::None => "sound bolt",
                NotStarted => "thread not caught",
                CrossThread => "crossed thread",
                Debris => "debris between the parts",
                FalseSnug => "burr that gives way (harmless)",
                Bottoming => "bolt bottoming in its hole",
                MissingPart => "missing washer or part",
                Galling => "galling thread",
                PrevailingLow => "worn locking feature",
                PrevailingHigh => "wrong locking feature",
                AlreadyTight => "bolt already tight",
                Strip => "stripping thread",
                Yield => "yielding bolt or joint",
                Fracture => "breaking bolt",
                SocketSlip => "socket slipping",
                StickSlip => "stick–slip (harmless)",
                UnderTorque => "stopped too early",
                OverTorque => "stopped too late",
                OverAngle => "joint much too soft",
                Relaxation => "joint that relaxes",
                ToolLifting => "tool lifting off",
                TurningTogether => "bolt turning with its nut",
                Seized => "seized bolt",
                DriveStripped => "stripped drive",
                SensorSaturated => "sensor at its end",
                SensorFrozen => "frozen joint torque",
                SensorDrift => "drifting joint torque",
                SamplesStale => "samples missing for a while",
                ContactElsewhere => "contact elsewhere on the arm",
                SideLoad => "tool levering",
            },
        }
    }
}

/// Shortest rundown in turns in which a fault of the thread has room to begin and to show.
fn room_turns(kind: FaultKind, tolerance: f64) -> f64 {
    match kind {
        FaultKind::CrossThread => 1.0,
        FaultKind::Galling => 3.0,
        FaultKind::PrevailingHigh => 1.6,
        FaultKind::FalseSnug => 1.5,
        FaultKind::Debris | FaultKind::Bottoming => tolerance + 1.4,
        _ => 0.0,
    }
}

impl Rehearsed<'_> {
    /// Every fault of this direction: those that can befall this bolt, and the others with why not.
    pub fn ills(&self) -> (Vec<Ill>, Vec<(Ill, &'static str)>) {
        let undone = self.job.goal.direction() == Way::Undo;
        let (mut can, mut cannot) = (Vec::new(), Vec::new());
        for kind in FaultKind::value_variants().iter().copied() {
            let of_the_way = if undone {
                kind.undoing()
            } else {
                kind.tightening()
            };
            if kind == FaultKind::None || !of_the_way {
                continue;
            }
            match self.obstacle(kind) {
                None => can.push(Ill::Fault(kind)),
                Some(why) => cannot.push((Ill::Fault(kind), why)),
            }
        }
        if matches!(self.job.goal, Goal::Recheck { .. }) {
            can.push(Ill::Lost);
        }
        (can, cannot)
    }

    /// Why a fault cannot be put in.
    fn obstacle(&self, kind: FaultKind) -> Option<&'static str> {
        use FaultKind as F;
        let job = self.job;
        let arm_alone = matches!(
            kind,
            F::SensorFrozen | F::SensorDrift | F::ContactElsewhere | F::SideLoad
        );
        if kind == F::SensorSaturated {
            return Some("a joint torque is cut off at its stated range in every run instead");
        }
        if arm_alone && self.site.is_none() {
            return Some("no arm is described that could have it");
        }
        let checked = matches!(job.goal, Goal::Recheck { .. });
        let on_the_way = matches!(
            kind,
            F::NotStarted
                | F::CrossThread
                | F::Debris
                | F::FalseSnug
                | F::Bottoming
                | F::MissingPart
                | F::Galling
                | F::PrevailingLow
                | F::PrevailingHigh
                | F::AlreadyTight
                | F::OverAngle
        );
        if self.carries() && on_the_way {
            return Some("the bolt is clamped when the run begins");
        }
        let while_turned = matches!(
            kind,
            F::Strip | F::Yield | F::Fracture | F::Relaxation | F::ToolLifting | F::StickSlip
        );
        if checked && while_turned {
            return Some("a bolt that is checked is not turned on");
        }
        let stops_at_torque = matches!(
            job.goal,
            Goal::Torque { .. } | Goal::Recheck { .. } | Goal::Watch(_)
        );
        if matches!(kind, F::UnderTorque | F::OverTorque) && !stops_at_torque {
            return Some("the run does not end at a torque");
        }
        if checked && kind == F::OverTorque {
            return Some("a check states no torque that would be too much");
        }
        if kind == F::Yield && matches!(job.goal, Goal::Yield { .. }) {
            return Some("the bolt is meant to yield");
        }
        if matches!(kind, F::PrevailingLow | F::PrevailingHigh) {
            let stated = match job.fastener.locking {
                Some(Locking::Stated(band)) => kind == F::PrevailingHigh || band.min > 0.0,
                Some(Locking::Standard { .. }) => true,
                Some(Locking::Free) => kind == F::PrevailingHigh,
                None => false,
            };
            if !stated {
                return Some(
                    "the description states no torque of the rundown to be below or above",
                );
            }
        }
        if kind == F::OverAngle && job.expected_run().elastic_rad.is_none() {
            return Some("the description tells no angle from snug to target");
        }
        if kind == F::MissingPart && !self.rundown_turns().1 {
            return Some("the description tells no turns to snug");
        }
        if matches!(kind, F::Debris | F::Bottoming) && !self.rundown_turns().1 {
            return Some("the description tells no turns to snug");
        }
        let ([least, most], _) = self.rundown_turns();
        let undone = job.goal.direction() == Way::Undo;
        if !undone && least < room_turns(kind, 0.5 * (most - least)) {
            return Some("the rundown is too short for it to begin and show");
        }
        if undone && kind == F::Galling && least < 4.0 {
            return Some("the run-out is too short for it to begin and show");
        }
        None
    }

    /// Puts a fault in. Its magnitude goes by the description's windows where it is one against them.
    pub fn spoil(&self, ill: Ill, s: &mut Scenario, rng: &mut ChaCha8Rng) {
        let Ill::Fault(kind) = ill else {
            // Half of it and more is gone: no more than an unturned bolt would lose by embedding.
            s.bolt.carried_nm = s.bolt.target_nm * rng.random_range(0.3..0.75);
            return;
        };
        let window = self.tolerance();
        let tolerance = s.stated.rundown_tolerance_turns;
        let early = |s: &Scenario, rng: &mut ChaCha8Rng| {
            let most = s.bolt.rundown_turns - 0.8;
            let least = (s.bolt.rundown_turns - (s.stated.rundown_turns - tolerance) + 0.3)
                .min(most - 0.05);
            rng.random_range(least..most)
        };
        // Also where the thread leaves no room: such scenarios are not rehearsed.
        if s.bolt.rundown_turns < 1.2 && !self.carries() {
            s.bolt.rundown_turns = 1.2;
        }
        let mode = s.mode.clone();
        s.fault = match kind {
            FaultKind::Debris => Fault::Debris {
                early_turns: early(s, rng),
                slope_ratio: rng.random_range(0.2..0.7),
                roughness: rng.random_range(0.1..0.35),
            },
            FaultKind::Bottoming => {
                let softest = 2.5 * s.bolt.target_nm / s.bolt.elastic_deg.to_radians();
                Fault::Bottoming {
                    early_turns: early(s, rng),
                    rate_nm_per_rad: (s.tool.windup_nm_per_rad * rng.random_range(0.3..1.5))
                        .max(softest),
                }
            }
            FaultKind::MissingPart => {
                let late = s.stated.rundown_turns + tolerance - s.bolt.rundown_turns;
                Fault::MissingPart {
                    thickness_mm: s.bolt.pitch_mm * (late + rng.random_range(0.3..2.0)),
                }
            }
            FaultKind::UnderTorque => Fault::UnderTorque {
                stop_fraction: (1.0 - window) * rng.random_range(0.55..0.93),
            },
            FaultKind::OverTorque => {
                s.bolt.yield_nm = None;
                Fault::OverTorque {
                    stop_fraction: (1.0 + window) * rng.random_range(1.05..1.3),
                }
            }
            FaultKind::Strip if self.carries() => {
                let carried = s.bolt.carried_nm / s.bolt.target_nm;
                let Fault::Strip {
                    drop_deg,
                    plateau,
                    roughness,
                    carry_on_deg,
                    ..
                } = fault_of(kind, s, rng)
                else {
                    return;
                };
                Fault::Strip {
                    onset_fraction: rng.random_range(carried.min(1.0) + 0.05..1.1),
                    drop_deg,
                    plateau,
                    roughness,
                    carry_on_deg,
                }
            }
            FaultKind::Yield => {
                let carried = s.bolt.carried_nm / s.bolt.target_nm;
                Fault::Yield {
                    onset_fraction: rng.random_range((carried + 0.05).clamp(0.5, 0.8)..0.85),
                    carry_on_deg: rng.random_range(60.0..200.0),
                }
            }
            FaultKind::ToolLifting => Fault::ToolLifting {
                onset_turns: self.along(s, rng),
                speed_mm_s: rng.random_range(1.0..8.0),
                depth_mm: 0.6 * s.bolt.diameter_mm,
            },
            FaultKind::OverAngle => {
                let most = s.stated.elastic_deg + s.stated.elastic_tolerance_deg;
                Fault::OverAngle {
                    soft_ratio: most / s.stated.elastic_deg * rng.random_range(1.2..1.8),
                }
            }
            _ => fault_of(kind, s, rng),
        };
        // What the arm has room for stays so.
        s.mode = mode;
        let begins = self.along(s, rng);
        let reads = |joint: usize| match self.site {
            Some(site) => joint.max(JOINTS - site.machine.joints() + 1),
            None => joint,
        };
        match &mut s.fault {
            Fault::SensorFrozen { joint, onset_turns } => {
                (*joint, *onset_turns) = (reads(*joint), begins);
            }
            Fault::SensorDrift { joint, .. } => *joint = reads(*joint),
            Fault::SamplesStale { onset_turns, .. }
            | Fault::ContactElsewhere { onset_turns, .. }
            | Fault::SideLoad { onset_turns, .. } => *onset_turns = begins,
            _ => {}
        }
        if self.job.mode == Turning::WristStrokes
            && kind == FaultKind::NotStarted
            && let Mode::WristStrokes { back, .. } = &mut s.mode
        {
            // A ratchet would only turn the loose bolt to and fro.
            *back = self.reseating(rng);
        }
    }

    /// Somewhere on the way, turns: in the rundown, or in what is left of a clamped bolt's way.
    fn along(&self, s: &Scenario, rng: &mut ChaCha8Rng) -> f64 {
        if matches!(self.job.goal, Goal::Recheck { .. }) {
            return 0.0;
        }
        if self.carries() {
            let left = 1.0 - (s.bolt.carried_nm / s.bolt.target_nm).min(1.0);
            return rng.random_range(0.0..0.5) * left * s.bolt.elastic_deg / 360.0;
        }
        rng.random_range(0.15..0.85) * s.bolt.rundown_turns
    }
}
