//! The way back to the next stroke, and the socket's way onto the head.

use rand::Rng;

use super::super::contact::Contact;
use super::super::readings::normal;
use super::super::scenario::{Mode, Return};
use super::{CLEAR_M, Operator, Phase};

impl Operator {
    pub(super) fn go_back(&mut self, phase: Phase, to: f64) {
        let Mode::WristStrokes {
            return_speed_deg_s, ..
        } = &self.scenario.mode
        else {
            return;
        };
        let lasts = (self.turning.angle - to).abs() / return_speed_deg_s.to_radians();
        self.from = self.turning.angle;
        self.to = to;
        self.enter(phase, lasts.max(0.3));
    }

    /// Half of the time the socket is brought back where it fits, else a little short of it.
    pub(super) fn return_angle(&mut self, contact: &Contact) -> f64 {
        let seat = self.scenario.mode.seat_rad();
        let start = -self.stroke_end;
        let relative = if self.rng.random::<f64>() < 0.5 {
            contact.play * self.rng.random_range(-0.4..0.4)
        } else {
            -0.5 * contact.play - self.rng.random_range(0.0..6f64.to_radians())
        };
        let to = start - contact.mismatch(start, seat) + relative;
        if to < start - 10f64.to_radians() {
            to + seat
        } else {
            to
        }
    }

    pub(super) fn lift(&self) -> f64 {
        match &self.scenario.mode {
            Mode::WristStrokes {
                back: Return::LiftAndReseat { lift_mm, .. },
                ..
            } => lift_mm * 1e-3,
            _ => CLEAR_M,
        }
    }

    pub(super) fn press(&mut self, contact: &Contact) {
        if self.touched_s == 0.0 {
            self.touched_s = self.time;
        }
        let fits = contact
            .mismatch(self.command(), self.scenario.mode.seat_rad())
            .abs()
            <= 0.5 * contact.play;
        self.engaged = fits;
        // Set down anew, however far it had come off before.
        self.lifted = 0.0;
        let ramp = 0.25 * (1.0 + 0.2 * normal(&mut self.rng)).clamp(0.5, 1.5);
        self.enter(Phase::Press, ramp);
    }
}
