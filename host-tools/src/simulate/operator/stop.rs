//! When the hand stops turning, and how it holds and lets go.

use std::f64::consts::TAU;

use rand::Rng;

use super::super::contact::Contact;
use super::super::fault::Fault;
use super::super::scenario::{Direction, Mode, Return, Scenario, Until};
use super::super::thread::Thread;
use super::{LET_GO_S, Operator, Phase};

/// Time constant with which a hand that holds still gives way, s.
const RELAX_S: f64 = 0.3;
/// Time for which a bolt is held after the stop, s.
const HOLD_S: f64 = 0.6;

/// Strokes that lead nowhere before the operator gives up, and what counts as leading on, rad.
const PATIENCE: u32 = 8;
const PROGRESS_RAD: f64 = 0.05;

/// What ends the turning, whichever comes first.
pub(super) struct Ending {
    /// Torque that the operator stops at, with foresight, N·m.
    torque: f64,
    /// Bolt angle, rad.
    bolt: f64,
    /// Tool angle since the socket first slipped, rad.
    slipped: f64,
}

impl Ending {
    pub fn of(scenario: &Scenario, thread: &Thread) -> Self {
        let target = scenario.bolt.target_nm;
        let onset = thread.onset.unwrap_or(0.0);
        let elastic = scenario.bolt.elastic_deg.to_radians();
        let never = f64::INFINITY;
        // Far enough for a joint that turns out soft or late; then even a patient hand gives up.
        let farthest = thread.snug + 6.0 * elastic + 2.0 * TAU;
        let stop = 1.0 + scenario.operator.overshoot;
        let sound = match scenario.direction {
            Direction::Tighten => match scenario.until {
                Until::Torque => Self {
                    torque: target * stop,
                    bolt: farthest,
                    slipped: never,
                },
                Until::FurtherAngle {
                    start_nm,
                    angle_deg,
                } => Self {
                    torque: never,
                    bolt: thread.turned_at(start_nm) + angle_deg.to_radians() * stop,
                    slipped: never,
                },
                Until::Yield { past_deg } => Self {
                    torque: never,
                    bolt: (scenario.bolt.yield_nm)
                        .map_or(farthest, |nm| thread.turned_at(nm) + past_deg.to_radians()),
                    slipped: never,
                },
            },
            Direction::Undo => Self {
                torque: 1.3 * target,
                bolt: thread.free_at().unwrap_or(0.0) + 0.75 * TAU,
                slipped: f64::INFINITY,
            },
        };
        match scenario.fault {
            Fault::NotStarted { stop_turns, .. } | Fault::TurningTogether { stop_turns, .. } => {
                Self {
                    bolt: stop_turns * TAU,
                    ..sound
                }
            }
            Fault::CrossThread {
                growth_turns,
                stop_fraction,
                ..
            } => Self {
                torque: stop_fraction * target,
                bolt: onset + 2.0 * growth_turns * TAU,
                ..sound
            },
            Fault::Strip { carry_on_deg, .. } | Fault::Fracture { carry_on_deg, .. } => Self {
                torque: never,
                bolt: onset + carry_on_deg.to_radians(),
                ..sound
            },
            Fault::Yield { carry_on_deg, .. } => Self {
                bolt: onset + carry_on_deg.to_radians(),
                ..sound
            },
            Fault::SocketSlip { carry_on_deg, .. } | Fault::DriveStripped { carry_on_deg, .. } => {
                Self {
                    slipped: carry_on_deg.to_radians(),
                    ..sound
                }
            }
            Fault::UnderTorque { stop_fraction } | Fault::OverTorque { stop_fraction } => Self {
                torque: stop_fraction * target,
                ..sound
            },
            Fault::Seized { limit_fraction } => Self {
                torque: limit_fraction * target,
                ..sound
            },
            _ => sound,
        }
    }
}

impl Operator {
    /// The hand that holds still gives way by a part of the torque: what is left after `n` time
    /// constants falls exponentially towards it.
    pub(super) fn relax(&mut self, contact: &Contact, dt: f64) {
        let part = self.scenario.operator.relaxation;
        let pace = -(1.0 - part).ln() * (-self.in_phase / RELAX_S).exp() / RELAX_S;
        self.ease += pace * dt * contact.torque.max(0.0) / contact.stiffness;
    }

    /// Prepares to give way until the socket is free between the flanks.
    pub(super) fn unwind(&mut self, contact: &Contact) {
        self.from = self.ease;
        self.to = self.ease + contact.torque.max(0.0) / contact.stiffness + 0.3 * contact.play;
    }

    pub(super) fn look_for_stop(&mut self, contact: &Contact, thread: &Thread) {
        let target = self.scenario.bolt.target_nm;
        let torque = self.foreseen(contact, thread);
        let end = &self.ending;
        let finished =
            torque >= end.torque || contact.bolt >= end.bolt || self.slipped >= end.slipped;
        if finished {
            self.brake(Phase::Hold);
        } else if self.is_spindle() {
            let (until, _, stop) = self.steps[self.step];
            if self.step + 1 < self.steps.len() && torque >= until * target {
                self.step += 1;
                self.lasts = stop;
                self.brake(Phase::Pause);
            }
        } else if self.turning.angle >= self.pause_at {
            self.pause_at = f64::INFINITY;
            let mean = self.scenario.operator.pause_s;
            self.lasts = mean * self.rng.random_range(0.4..1.6);
            self.brake(Phase::Pause);
        } else if self.stroke_end - self.turning.angle < 2e-3 {
            self.end_stroke(contact);
        }
    }

    pub(super) fn brake(&mut self, next: Phase) {
        self.next = next;
        self.phase = Phase::Brake;
    }

    pub(super) fn after_brake(&mut self, contact: &Contact) {
        match self.next {
            Phase::Hold => {
                self.stopped_s = self.time;
                let lasts = match self.scenario.fault {
                    Fault::Relaxation { time_s, .. } => 3.0 * time_s,
                    _ => 0.0,
                };
                self.enter(Phase::Hold, lasts.max(HOLD_S));
            }
            Phase::Pause => {
                self.unwind(contact);
                self.enter(Phase::Pause, self.lasts.max(LET_GO_S));
            }
            _ => match &self.scenario.mode {
                Mode::WristStrokes {
                    back: Return::LiftAndReseat { .. },
                    ..
                } => {
                    self.next = Phase::Lift;
                    self.unwind(contact);
                    self.enter(Phase::LetGo, LET_GO_S);
                }
                _ => self.go_back(Phase::RatchetBack, -self.stroke_end),
            },
        }
    }

    /// Goes back for another stroke, unless the last ones led nowhere.
    fn end_stroke(&mut self, contact: &Contact) {
        if contact.bolt > self.come_to + PROGRESS_RAD {
            self.come_to = contact.bolt;
            self.idle_strokes = 0;
        } else {
            self.idle_strokes += 1;
        }
        let patient = self.idle_strokes < PATIENCE;
        self.brake(if patient {
            Phase::RatchetBack
        } else {
            Phase::Hold
        });
    }

    /// Torque at which the tool comes to rest if it brakes now: once its play is used up the spring
    /// winds up on, but no further than the bolt resists.
    fn foreseen(&self, contact: &Contact, thread: &Thread) -> f64 {
        let share = contact.stiffness / (contact.stiffness + thread.rate);
        let way = self.turning.brake_way();
        let wound = contact.wound(self.command() + way);
        let resisted = thread.resistance(contact.bolt + share * way);
        wound.min(resisted).max(contact.torque)
    }
}
