//! What may give way while a joint is clamped: bolt, thread, or the grip of the socket.
//!
//! They are told apart by how the torque goes: a yielding bolt loses slope but no torque; a thread
//! that strips loses torque over tens of degrees; a bolt that breaks loses nearly all within a few,
//! and has yielded before; a socket that slips loses it at once while the bolt stands.

mod fall;
mod fracture;
mod goes;
mod pass;
mod rise;
mod slope;
mod socket_slip;
mod strip;
#[cfg(test)]
mod tests;
mod yielding;

use super::{Cause, Detection, Detector, FindingKind, Quantity, SampleView, StepView};
use fall::{Fall, Fallen};
use fracture::Break;
use rise::Rise;
use socket_slip::SocketSlip;
use yielding::Yielding;

/// Bolt angle after a stop that is not judged: a thread that is broken loose again overshoots over
/// some degrees (common practice, no source), rad (4.5°).
pub(super) const RESTART_RAD: f32 = 0.0785;
/// What a bolt at rest takes more to break loose than to turn, at most, as a part: friction at rest
/// exceeds that in motion by so much on plain steel (coefficients of 0.74 and 0.57, mechanical engineers'
/// handbook tables, from memory), and nearly all of the torque is friction.
pub(super) const REST_PART: f32 = 0.3;

/// What is left of that at most after so much bolt angle since the stop, rad.
pub(super) fn rest_part(since_stop_rad: f32) -> f32 {
    REST_PART * (1.0 - since_stop_rad / RESTART_RAD).clamp(0.0, 1.0)
}

/// Detector of what gives way in clamping. Says yield, and one failure, at most once each; a thread
/// that was said to strip and of which nothing is left was a bolt that broke: that is said after it.
#[derive(Clone, Debug, Default)]
pub struct GivingWay {
    rise: Rise,
    yielding: Yielding,
    fall: Fall,
    slip: SocketSlip,
    clamped: bool,
    failed: Failed,
    /// Whether the step whose fall was looked at may be one of a rise.
    rises: bool,
}

/// What has been said to have failed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Failed {
    #[default]
    Nothing,
    Thread,
    BoltOrGrip,
}

impl Detector for GivingWay {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let failed = self.look_at_fall(view);
        self.look_at_rise(view);
        failed.or_else(|| self.look_at_slopes(view))
    }

    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let let_go = self.slip.follow(view, self.clamped)?;
        if self.failed != Failed::Nothing {
            return None;
        }
        self.failed = Failed::BoltOrGrip;
        let least_nm = view.expected.yield_nm.map(|band| band.min);
        let (likely, runner_up) = socket_slip::causes(
            &let_go,
            self.yielding.has_begun(),
            self.yielding.onset_nm(),
            least_nm,
        );
        Some(Detection {
            kind: if likely == Cause::BrokenBolt {
                FindingKind::Fracture
            } else {
                FindingKind::SocketSlip
            },
            quantity: Quantity::DropNm,
            value: let_go.held_nm - let_go.left_nm,
            limit: (1.0 - socket_slip::LEFT_PART) * let_go.held_nm,
            place: None,
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    }
}

impl GivingWay {
    /// The first part of a look at a step: whether the torque falls.
    pub fn look_at_fall(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.clamped = view.snug || view.expected.carried_nm.is_some();
        self.rises = false;
        if self.failed == Failed::BoltOrGrip || self.slip.pending() {
            return None;
        }
        let left = self.rise.left(view);
        if let Some(fallen) = self.fall.follow(view, left) {
            return self.failure(&fallen, view.expected.part_of_target_nm(1.0));
        }
        self.rises = self.failed == Failed::Nothing;
        None
    }

    /// The second part, of the same step: what takes time of whether it still rises as it did.
    pub fn look_at_rise(&mut self, view: &StepView<'_>) {
        if self.rises {
            self.rise.follow(view);
        }
    }

    /// The last part, of the same step: whether it rises as it did.
    pub fn look_at_slopes(&mut self, view: &StepView<'_>) -> Option<Detection> {
        if !core::mem::take(&mut self.rises) {
            return None;
        }
        let now = self.rise.finish(view);
        self.yielding.follow(view, &self.rise, now)
    }

    /// What an angle that is too large comes from, where the slope tells it.
    pub fn explain_angle(&mut self, view: &StepView<'_>) -> Option<Detection> {
        self.yielding.explain(view)
    }

    /// Torque at which the yield that was said began, N·m, driving direction.
    pub fn yield_onset_nm(&self) -> Option<f32> {
        self.yielding.onset_nm()
    }

    /// Whether the newest slope leaves open that the bolt yields below the torque that was wanted.
    pub fn yield_in_doubt(&self) -> bool {
        self.yielding.in_doubt()
    }

    fn failure(&mut self, fallen: &Fallen, target_nm: f32) -> Option<Detection> {
        let told = if self.failed == Failed::Thread {
            fracture::nothing_left(fallen)
        } else {
            let yielded_rad = self.yielding.before_rad(fallen.peak_rad);
            fracture::breaks(fallen, yielded_rad, target_nm)
        };
        match told {
            Break::Open => None,
            Break::Broken => {
                self.failed = Failed::BoltOrGrip;
                Some(fracture::fracture(fallen))
            }
            Break::Whole => {
                self.failed = Failed::Thread;
                Some(strip::strip(fallen, self.yielding.has_begun()))
            }
        }
    }
}
