//! What the description leaves out or states widely, and the same description with it: what stating it would change is
//! counted on the same runs, not guessed.

use bolting_monitor::fastener::{Band, Locking};
use bolting_monitor::procedure::{BoltJob, Direction as Way, Expected, Mode};

use super::draw::Rehearsed;
use crate::simulate::Scenario;

/// A key that is not stated, or wide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// The band of torque before snug.
    Prevailing,
    /// Turns to snug.
    Rundown,
    /// Angle from snug to target.
    Elastic,
    /// Play of a socket that is lifted off.
    Play,
    /// Wind-up of the tool.
    Windup,
    /// Turns to snug, stated widely.
    WideRundown,
    /// Angle from snug to target, stated widely.
    WideElastic,
}

/// What a joint's angle can be known to where it was tried out, as a part (common practice, no source).
const TRIED_PART: f32 = 0.2;
/// Likewise the turns to snug.
const TRIED_TURNS: f64 = 0.25;

impl Missing {
    /// What to state.
    pub fn words(self) -> &'static str {
        match self {
            Self::Prevailing => {
                "run.prevailing_torque_nm (or locking.feature) is not stated: with the band of these bolts"
            }
            Self::Rundown => {
                "run.rundown_turns (or bolt.rundown_mm) is not stated: with the turns of these bolts"
            }
            Self::Elastic => {
                "neither the joint nor run.elastic_angle_deg is stated: with the angle of these bolts"
            }
            Self::Play => "tool.socket_play_deg is not stated: with the play of these sockets",
            Self::Windup => {
                "tool.windup_nm_per_rad is not stated: with the stiffness of these tools"
            }
            Self::WideRundown => {
                "run.rundown_tolerance_turns is wide: with the turns of these bolts known to ±0.25"
            }
            Self::WideElastic => {
                "run.elastic_tolerance_deg is wide: with the angle of these bolts known to ±20 %"
            }
        }
    }

    /// States it as a user who knows this bolt would.
    pub fn state(self, job: &mut BoltJob, s: &Scenario) {
        let bolt = &s.bolt;
        match self {
            Self::Prevailing => {
                let locking = bolt.locking.as_ref();
                let level = bolt.running_nm * (1.0 + 2.5 * bolt.grain)
                    + locking.map_or(0.0, |l| l.torque_nm * (1.0 + 2.5 * l.grain));
                let least = locking.map_or(0.0, |l| 0.5 * l.torque_nm);
                // A little room above.
                let band = Band::new(least as f32, (1.3 * level) as f32);
                job.fastener.locking = Some(Locking::Stated(band));
            }
            Self::Rundown => {
                let turns = bolt.rundown_turns;
                job.rundown_rad = Some(Expected {
                    value: (turns * std::f64::consts::TAU) as f32,
                    // As a description without a tolerance has it.
                    tolerance: ((0.1 * turns).max(0.25) * std::f64::consts::TAU) as f32,
                });
            }
            Self::Elastic => {
                let value = bolt.elastic_deg.to_radians() as f32;
                job.elastic_rad = Some(Expected {
                    value,
                    tolerance: 0.65 * value,
                });
            }
            Self::WideRundown => {
                job.rundown_rad = Some(Expected {
                    value: (bolt.rundown_turns * std::f64::consts::TAU) as f32,
                    tolerance: (TRIED_TURNS * std::f64::consts::TAU) as f32,
                });
            }
            Self::WideElastic => {
                let value = bolt.elastic_deg.to_radians() as f32;
                job.elastic_rad = Some(Expected {
                    value,
                    tolerance: TRIED_PART * value,
                });
            }
            Self::Play => job.tool.socket_play_rad = Some(s.tool.play_deg.to_radians() as f32),
            Self::Windup => job.tool.windup_nm_per_rad = Some(s.tool.windup_nm_per_rad as f32),
        }
    }
}

impl Rehearsed<'_> {
    /// What this pass would be told more of.
    pub fn missing(&self) -> Vec<Missing> {
        let job = self.job;
        let run = job.expected_run();
        let loose = !self.carries();
        let up = job.goal.direction() == Way::Tighten;
        let strokes = job.mode == Mode::WristStrokes;
        let tool = &job.tool;
        [
            (Missing::Prevailing, loose && job.fastener.locking.is_none()),
            (
                Missing::Rundown,
                loose && up && run.earliest_snug_rad.is_none(),
            ),
            (Missing::Elastic, up && loose && run.elastic_rad.is_none()),
            (
                Missing::Play,
                strokes && tool.ratchet_tooth_rad.is_none() && tool.socket_play_rad.is_none(),
            ),
            (Missing::Windup, tool.windup_nm_per_rad.is_none()),
            (
                Missing::WideRundown,
                loose
                    && up
                    && (run.earliest_snug_rad.zip(run.latest_snug_rad)).is_some_and(|(a, b)| {
                        f64::from(b - a) > 2.0 * TRIED_TURNS * std::f64::consts::TAU
                    }),
            ),
            (
                Missing::WideElastic,
                up && run
                    .elastic_rad
                    .is_some_and(|band| band.max - band.min > TRIED_PART * (band.max + band.min)),
            ),
        ]
        .into_iter()
        .filter_map(|(missing, is)| is.then_some(missing))
        .collect()
    }
}
