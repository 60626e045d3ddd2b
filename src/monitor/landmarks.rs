//! What a run has come past and what its verdict needs to know of it. Driving direction.

use crate::curve::Line;
use crate::detect::{Finding, FindingKind, Quantity};
use crate::math::sqrt;
use crate::procedure::{Figure, Goal};
use crate::wrench::SideMoment;

/// Time constant over which torque and angle are evened out alike, s: noise of a single sample must
/// not pass for a torque that was reached.
const EVEN_S: f32 = 0.02;

/// The landmarks of one run.
#[derive(Clone, Copy, Debug)]
pub(super) struct Landmarks {
    mark_nm: Option<f32>,
    /// Torque in N·m that a torque ratio is a part of.
    recorded_nm: f32,
    even: Option<(f32, f32)>,
    /// Highest torque so far, evened out, N·m.
    pub highest_nm: Option<Figure>,
    /// Bolt angle of that torque, rad.
    pub highest_rad: f32,
    /// Bolt angle at which the torque first reached the mark, rad.
    pub mark_rad: Option<Figure>,
    /// Torque at which yield began, N·m.
    pub yield_nm: Option<Figure>,
    /// Torque at which the bolt came loose, N·m.
    pub breakaway_nm: Option<Figure>,
    /// Bolt angle at which the last thread was free, rad.
    pub free_rad: Option<Figure>,
    /// Standard uncertainty of the torque at the snug event, what does not average out, N·m.
    pub seat_u_nm: f32,
    /// Moment across the bolt axis when the bolt last turned.
    pub side: Option<SideMoment>,
    /// Whether a stopping finding was made.
    pub stopped: bool,
    /// Whether the run was stopped before the head seated as it should.
    pub unseated: bool,
    /// Whether a finding that does not stop speaks against the bolt.
    pub adverse: bool,
    /// Whether a joint torque was found drifting, frozen or clipped.
    pub sensing_in_doubt: bool,
    /// Whether the joint torques contradicted each other.
    pub joints_disagree: bool,
}

impl Landmarks {
    pub const fn new(goal: &Goal) -> Self {
        let recorded_nm = match goal {
            Goal::Loosen {
                recorded_nm: Some(recorded),
                ..
            } => *recorded,
            _ => 0.0,
        };
        Self {
            mark_nm: goal.mark_nm(),
            recorded_nm,
            even: None,
            highest_nm: None,
            highest_rad: 0.0,
            mark_rad: None,
            yield_nm: None,
            breakaway_nm: None,
            free_rad: None,
            seat_u_nm: 0.0,
            side: None,
            stopped: false,
            unseated: false,
            adverse: false,
            sensing_in_doubt: false,
            joints_disagree: false,
        }
    }

    /// Takes in an observable sample. `local` is the line through the newest steps: where the bolt
    /// turns, the angle of a torque is no surer than the torque.
    pub fn follow(&mut self, dt_s: f32, torque: Figure, angle: Figure, local: Option<&Line>) {
        let (t, a) = self.even.unwrap_or((torque.value, angle.value));
        let share = dt_s / (dt_s + EVEN_S);
        let (t, a) = (
            t + (torque.value - t) * share,
            a + (angle.value - a) * share,
        );
        self.even = Some((t, a));
        if self.highest_nm.is_none_or(|highest| t > highest.value) {
            self.highest_nm = Some(Figure {
                value: t,
                u: torque.u,
            });
            self.highest_rad = a;
        }
        let reached = self.mark_rad.is_none() && self.mark_nm.is_some_and(|mark| t >= mark);
        if !reached {
            return;
        }
        let by_torque = local
            .filter(|l| l.slope > 0.0)
            .map_or(0.0, |l| torque.u / l.slope);
        self.mark_rad = Some(Figure {
            value: a,
            u: sqrt(angle.u * angle.u + by_torque * by_torque),
        });
    }

    /// Takes in a finding. `angle` is in the driving direction, rad; `onset_nm` the torque at which the
    /// yield that was said began, N·m.
    pub fn note(&mut self, finding: &Finding, angle: Figure, onset_nm: Option<f32>) {
        self.stopped |= finding.stops();
        let torque = Figure {
            value: finding.torque_nm.abs(),
            u: finding.torque_u_nm,
        };
        match finding.kind {
            FindingKind::CrossThread
            | FindingKind::EarlySnug
            | FindingKind::Galling
            | FindingKind::AlreadyTight => self.unseated = true,
            FindingKind::JointsDisagree => self.joints_disagree = true,
            FindingKind::LateSnug | FindingKind::PrevailingHigh | FindingKind::PrevailingLow => {
                self.adverse = true;
            }
            FindingKind::SensorDrift | FindingKind::SensorFrozen | FindingKind::SensorSaturated => {
                self.sensing_in_doubt = true
            }
            FindingKind::YieldOnset | FindingKind::EarlyYield => {
                self.yield_nm.get_or_insert(Figure {
                    value: onset_nm.unwrap_or(torque.value),
                    ..torque
                });
            }
            FindingKind::Breakaway => {
                let peak_nm = match finding.quantity {
                    Quantity::TorqueRatio => finding.value * self.recorded_nm,
                    _ => finding.value,
                };
                self.breakaway_nm.get_or_insert(Figure {
                    value: peak_nm.abs(),
                    u: finding.torque_u_nm,
                });
            }
            // By the stated turns alone it would bear itself out.
            FindingKind::ThreadFree if finding.quantity == Quantity::AdvanceRatio => {
                self.free_rad.get_or_insert(angle);
            }
            _ => {}
        }
    }
}
