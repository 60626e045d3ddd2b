//! A held bolt that loses torque: the joint settles, creeps or crushes under the clamp force.
//!
//! A tool that stands wound up holds the head at what its friction bears, and that falls with the
//! clamp force: the head then creeps on and unwinds the tool, a fraction of a degree for all of it. A
//! hand that eases off turns the tool back by its wind-up instead, and hides what the joint loses
//! meanwhile: friction at rest bears a little more than while turning, and as long as the tool turns
//! with less than that, nothing moves. So only a torque below what the tool's way back explains is the
//! joint's; then all of the loss is. A tool that is switched off or let go keeps nothing and is no
//! relaxation; one that stands for less than a second, or has no torque on it, tells nothing.

use super::{Cause, Detection, Detector, EMBEDS_PART, FindingKind, Quantity, SampleView};
use crate::math::Limited;

/// What the tool's way back does not explain of it, in standard uncertainties of the torque at rest.
const LOSS_SIGMA: f32 = 3.0;
/// A tool that holds less than this part of the torque does not hold.
const HELD_PART: f32 = 0.3;
/// Time from the stop until it is judged, s: common practice is to look again after 0.1 to 1 s.
const STOOD_S: f32 = 0.5;
/// Time for which the loss must stand, s: a tool that is let go passes by it.
const LASTING_S: f32 = 0.3;
/// Time over which the torque is evened out, s: turning and standing.
const TURNING_S: f32 = 0.02;
const STANDING_S: f32 = 0.1;
/// A stated stiffness may be so much too low.
const STIFFER: f32 = 1.3;
/// Way back of a tool of unknown stiffness that explains nothing, rad (0.05°).
const STILL_RAD: f32 = 0.0009;

/// Detector of relaxation.
#[derive(Clone, Copy, Debug)]
pub struct Relaxation {
    windup_nm_per_rad: Option<f32>,
    /// Torque and tool angle where the bolt last turned, N·m and rad.
    turned_nm: Option<f32>,
    turned_at_rad: f32,
    standing_nm: f32,
    stood_s: f32,
    lost_s: f32,
    /// Most that was lost, for as long as a loss must stand, since the bolt last turned, N·m.
    lost_nm: Option<f32>,
    found: bool,
}

impl Relaxation {
    /// `windup_nm_per_rad`: stiffness between the measured tool angle and the bolt head.
    pub const fn new(windup_nm_per_rad: Option<f32>) -> Self {
        Self {
            windup_nm_per_rad,
            turned_nm: None,
            turned_at_rad: 0.0,
            standing_nm: 0.0,
            stood_s: 0.0,
            lost_s: 0.0,
            lost_nm: None,
            found: false,
        }
    }

    /// Torque that the joint has lost while it was held, N·m; `None` where no loss stood, and once the bolt
    /// has been turned on.
    pub const fn lost_nm(&self) -> Option<f32> {
        self.lost_nm
    }
}

impl Detector for Relaxation {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let now_nm = view.torque.value_nm;
        if view.paused || !view.torque.observable {
            self.turned_nm = None;
            return None;
        }
        let share = |time_s: f32| view.dt_s / (view.dt_s + time_s);
        if view.turning {
            let turned_nm = self.turned_nm.unwrap_or(now_nm);
            let turned_nm = turned_nm + (now_nm - turned_nm) * share(TURNING_S);
            (self.turned_nm, self.standing_nm) = (Some(turned_nm), turned_nm);
            (self.turned_at_rad, self.stood_s, self.lost_s) = (view.tool_rad, 0.0, 0.0);
            self.lost_nm = None;
            return None;
        }
        let turned_nm = self.turned_nm?;
        self.stood_s += view.dt_s;
        self.standing_nm += (now_nm - self.standing_nm) * share(STANDING_S);
        let back_rad = (self.turned_at_rad - view.tool_rad).at_least(0.0);
        let explained_nm = match self.windup_nm_per_rad {
            Some(stiffness) => STIFFER * stiffness * back_rad,
            None if back_rad < STILL_RAD => 0.0,
            None => f32::MAX,
        };
        let loss_nm = turned_nm - self.standing_nm;
        let clamps = turned_nm
            > view
                .expected
                .ceiling_nm
                .at_least(view.expected.part_of_target_nm(0.3));
        let sure_nm = LOSS_SIGMA * view.torque.u_nm();
        let limit = (EMBEDS_PART * turned_nm).at_least(sure_nm + explained_nm);
        let holds = self.standing_nm > HELD_PART * turned_nm;
        if clamps && holds && loss_nm > limit {
            self.lost_s += view.dt_s;
        } else {
            self.lost_s = 0.0;
        }
        if self.stood_s < STOOD_S || self.lost_s < LASTING_S {
            return None;
        }
        // A hand that eases off adds no more than what its way back explains.
        let most_nm = self.lost_nm.unwrap_or(loss_nm);
        self.lost_nm = Some(most_nm.at_least(loss_nm - explained_nm));
        if self.found {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::Relaxation,
            quantity: Quantity::DropNm,
            value: loss_nm,
            limit,
            place: None,
            likely: Some(Cause::SoftJoint),
            runner_up: Some(Cause::Debris),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::bench::{Touch, touch};
    use super::*;

    const STIFFNESS: f32 = 3000.0;

    /// Half a second of turning at 40 N·m, then two of standing: torque left as a part and way back
    /// of the tool in degrees, by the time since the stop.
    fn held(after: impl Fn(f32) -> (f32, f32)) -> impl Iterator<Item = Touch> {
        let turning = (0..500).map(|i| (0.02 * i as f32, 40.0, true));
        let standing = (0..2000).map(move |i| {
            let (left, back_deg) = after(0.001 * i as f32);
            (10.0 - back_deg, 40.0 * left, false)
        });
        turning.chain(standing)
    }

    fn relaxes(after: impl Fn(f32) -> (f32, f32)) -> bool {
        let mut detector = Relaxation::new(Some(STIFFNESS));
        let found = touch(&mut detector, held(after));
        assert!(found.is_none_or(|(d, _)| d.kind == FindingKind::Relaxation));
        found.is_some()
    }

    #[test]
    fn a_joint_that_settles_is_told_from_a_hand_that_gives_way() {
        let settles = |part: f32| move |t: f32| 1.0 - part * (1.0 - (-t / 0.3).exp());
        assert!(relaxes(|t| (settles(0.3)(t), 0.0)));
        assert!(!relaxes(|t| (settles(0.1)(t), 0.0)));
        // The same fall, and the tool has gone back by the wind-up of it.
        let windup_deg = |left: f32| ((1.0 - left) * 40.0 / STIFFNESS).to_degrees();
        let eased = |t: f32| (settles(0.3)(t), windup_deg(settles(0.3)(t)));
        assert!(!relaxes(eased));
    }

    #[test]
    fn a_tool_that_is_switched_off_or_let_go_is_no_relaxation() {
        assert!(!relaxes(|t| (if t < 0.8 { 1.0 } else { 0.0 }, 0.0)));
        assert!(!relaxes(|t| (
            (1.0 - 4.0 * (t - 0.6).max(0.0)).max(0.0),
            0.0
        )));
    }

    #[test]
    fn with_unknown_wind_up_only_a_tool_that_stands_tells() {
        let mut detector = Relaxation::new(None);
        assert_eq!(touch(&mut detector, held(|_| (0.7, 0.2))), None);
        assert!(touch(&mut Relaxation::new(None), held(|_| (0.7, 0.0))).is_some());
    }
}
