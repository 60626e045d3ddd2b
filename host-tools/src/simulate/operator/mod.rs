//! The hand: strokes, returns, pauses, the stop at the target, and letting go.

mod back;
mod stop;

use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::contact::Contact;
use super::fault::Fault;
use super::motion::{Turning, quintic};
use super::readings::Wander;
use super::scenario::{Mode, Scenario};
use super::thread::Thread;
use stop::Ending;

/// Longest run, s: a scenario that never reaches its stop ends here.
const LONGEST_S: f64 = 600.0;
/// Height of the socket on the face of a hexagon that it does not fit on yet, m.
const FACE_M: f64 = 0.003;
/// Height of the socket at the start and at the end, m.
const CLEAR_M: f64 = 0.008;
/// Time to give way to the wind-up, s.
const LET_GO_S: f64 = 0.25;
/// Time to grip again after a pause, s.
const REGRIP_S: f64 = 0.2;
/// Time in which a socket that has found its seat drops onto it, s.
const DROP_S: f64 = 0.15;

#[derive(Clone, Copy, Debug, PartialEq)]
enum Phase {
    Free,
    /// Straight moves from one value to another within a time.
    Lower,
    Press,
    Drive,
    /// Braking; what follows stands in `next`.
    Brake,
    Pause,
    RatchetBack,
    Lift,
    TurnBack,
    Search,
    Hold,
    LetGo,
    Retreat,
    Done,
}

/// Commanded motion of the tool, and what the hand does beside.
pub(super) struct Operator {
    scenario: Scenario,
    steps: Vec<(f64, f64, f64)>,
    step: usize,
    phase: Phase,
    next: Phase,
    /// Time in this phase and its length, s.
    in_phase: f64,
    lasts: f64,
    /// Start and end of a straight move of angle or height.
    from: f64,
    to: f64,
    time: f64,
    /// Commanded angle without the easing of the hand.
    turning: Turning,
    /// How much the hand has eased off, rad.
    ease: f64,
    /// Height above the seat, m.
    pub height: f64,
    /// Height at which this drive found its seat, m.
    drop_from: f64,
    /// How far the tool has come off the head while it turned, m.
    lifted: f64,
    /// How firmly the hand holds the tool to the bolt: 0 off, 1 at work.
    pub grip: f64,
    pub engaged: bool,
    stroke_end: f64,
    pause_at: f64,
    ending: Ending,
    /// Strokes without turning the bolt on, and how far it had come before them, rad.
    idle_strokes: u32,
    come_to: f64,
    /// Tool angle driven on since the socket first slipped, rad.
    slipped: f64,
    mood: Wander,
    rng: ChaCha8Rng,
    /// When the socket first touched, s.
    pub touched_s: f64,
    /// When the hand stopped turning for good, s.
    pub stopped_s: f64,
}

impl Operator {
    pub fn new(scenario: &Scenario, thread: &Thread, mut rng: ChaCha8Rng) -> Self {
        let (start, agility, steps) = match &scenario.mode {
            Mode::WristStrokes { stroke_deg, .. } => {
                // With an angle head the whole arm swings.
                let agility = if scenario.tool.angle_head { 1.0 } else { 8.0 };
                (-0.5 * stroke_deg.to_radians(), agility, vec![])
            }
            Mode::PoweredSpindle { steps, .. } => (
                0.0,
                300.0,
                steps
                    .iter()
                    .map(|s| {
                        (
                            s.until_fraction,
                            s.rpm * std::f64::consts::TAU / 60.0,
                            s.stop_s,
                        )
                    })
                    .collect(),
            ),
        };
        Self {
            steps,
            step: 0,
            phase: Phase::Free,
            next: Phase::Free,
            in_phase: 0.0,
            lasts: scenario.operator.free_s.max(0.5),
            from: 0.0,
            to: 0.0,
            time: 0.0,
            turning: Turning::new(start, agility),
            ease: 0.0,
            height: CLEAR_M,
            drop_from: 0.0,
            lifted: 0.0,
            grip: 0.0,
            engaged: false,
            stroke_end: -start,
            pause_at: f64::INFINITY,
            ending: Ending::of(scenario, thread),
            idle_strokes: 0,
            come_to: 0.0,
            slipped: 0.0,
            mood: Wander::new(&mut rng),
            rng,
            touched_s: 0.0,
            stopped_s: 0.0,
            scenario: scenario.clone(),
        }
    }

    /// Commanded angle of the tool, rad.
    pub fn command(&self) -> f64 {
        self.turning.angle - self.ease
    }

    pub fn done(&self) -> bool {
        self.phase == Phase::Done || self.time > LONGEST_S
    }

    /// Whether it is turning the bolt at this moment, and not yet braking.
    pub fn is_driving(&self) -> bool {
        self.phase == Phase::Drive
    }

    /// Whether it turns the bolt, or is coming to a stop.
    pub fn is_moving(&self) -> bool {
        matches!(self.phase, Phase::Drive | Phase::Brake)
    }

    /// Stops turning for a time, s.
    pub fn interrupt(&mut self, lasts: f64) {
        self.lasts = lasts;
        self.brake(Phase::Pause);
    }

    fn enter(&mut self, phase: Phase, lasts: f64) {
        self.phase = phase;
        self.in_phase = 0.0;
        self.lasts = lasts.max(0.02);
    }

    fn over(&self) -> bool {
        self.in_phase >= self.lasts
    }

    fn way(&self) -> f64 {
        self.from + (self.to - self.from) * quintic(self.in_phase / self.lasts)
    }

    fn is_spindle(&self) -> bool {
        !self.steps.is_empty()
    }

    /// Moves on by `dt`.
    pub fn step(&mut self, dt: f64, contact: &Contact, thread: &Thread) {
        self.time += dt;
        self.in_phase += dt;
        let mood = self.mood.step(dt, 0.35, &mut self.rng);
        match self.phase {
            Phase::Free => {
                let rise = (std::f64::consts::PI * self.in_phase / self.lasts)
                    .sin()
                    .powi(2);
                self.height = CLEAR_M + self.scenario.operator.free_motion_mm * 1e-3 * rise;
                if self.over() {
                    self.from = CLEAR_M;
                    self.to = 0.0;
                    self.enter(Phase::Lower, 0.6);
                }
            }
            Phase::Lower => {
                self.height = self.way();
                if self.over() {
                    self.press(contact);
                }
            }
            Phase::Press => {
                self.grip = quintic(self.in_phase / self.lasts);
                if self.over() {
                    if self.engaged {
                        self.drive()
                    } else {
                        self.enter(Phase::Search, 1.0)
                    }
                }
            }
            Phase::Search => {
                self.turning.towards(0.2, dt);
                if contact
                    .mismatch(self.command(), self.scenario.mode.seat_rad())
                    .abs()
                    < 0.45 * contact.play
                {
                    self.engaged = true;
                    self.drive();
                }
            }
            Phase::Drive => {
                // A socket that has just found its seat drops the rest of the way.
                self.lift_off(contact, dt);
                let drop = self.drop_from * (1.0 - quintic(self.in_phase / DROP_S));
                self.height = drop + self.lifted;
                self.ease = self.from * (1.0 - quintic(self.in_phase / REGRIP_S));
                let wanted = self.wanted_speed(contact, mood);
                let before = self.turning.angle;
                self.turning.towards(wanted, dt);
                if contact.slips > 0 {
                    self.slipped += self.turning.angle - before;
                }
                if self.phase == Phase::Drive {
                    self.look_for_stop(contact, thread);
                }
            }
            Phase::Brake => {
                self.turning.towards(0.0, dt);
                if self.turning.stands() {
                    self.after_brake(contact);
                }
            }
            Phase::Pause => {
                if self.is_spindle() {
                    // A spindle without current lets go.
                    self.ease =
                        self.from + (self.to - self.from) * quintic(self.in_phase / LET_GO_S);
                } else {
                    self.relax(contact, dt);
                }
                if self.over() {
                    self.from = self.ease;
                    self.drop_from = self.height - self.lifted;
                    self.enter(Phase::Drive, REGRIP_S);
                }
            }
            Phase::RatchetBack | Phase::TurnBack => {
                self.turning.angle = self.way();
                if self.over() {
                    if self.phase == Phase::RatchetBack {
                        self.drive();
                    } else {
                        let seat = self.scenario.mode.seat_rad();
                        let fits =
                            contact.mismatch(self.command(), seat).abs() <= 0.5 * contact.play;
                        self.from = self.height;
                        self.to = if fits { 0.0 } else { FACE_M };
                        self.enter(Phase::Lower, 0.4);
                    }
                }
            }
            Phase::Lift => {
                self.height = self.way();
                // Lifting off frees the head at once; the last of the wind-up went with the ease.
                self.engaged = false;
                self.turning.angle -= std::mem::take(&mut self.ease);
                if self.over() {
                    let to = self.return_angle(contact);
                    self.go_back(Phase::TurnBack, to);
                }
            }
            Phase::Hold => {
                self.relax(contact, dt);
                if self.over() {
                    self.unwind(contact);
                    self.enter(Phase::LetGo, LET_GO_S);
                }
            }
            Phase::LetGo => {
                self.ease = self.way();
                self.grip = self.grip.min(1.0 - quintic(self.in_phase / self.lasts));
                if self.over() {
                    self.from = self.height;
                    if self.next == Phase::Lift {
                        self.to = self.lift();
                        self.enter(Phase::Lift, 0.4);
                    } else {
                        self.to = CLEAR_M;
                        self.enter(Phase::Retreat, 0.5);
                    }
                }
            }
            Phase::Retreat => {
                self.height = self.way();
                self.engaged = false;
                if self.in_phase >= self.lasts + 0.2 {
                    self.phase = Phase::Done;
                }
            }
            Phase::Done => {}
        }
    }

    /// A tool that is pushed off the head while it turns loses it in the end.
    fn lift_off(&mut self, contact: &Contact, dt: f64) {
        let Fault::ToolLifting {
            onset_turns,
            speed_mm_s,
            depth_mm,
        } = self.scenario.fault
        else {
            return;
        };
        if contact.bolt >= onset_turns * std::f64::consts::TAU {
            self.lifted += speed_mm_s * 1e-3 * dt;
        }
        if self.lifted > depth_mm * 1e-3 {
            self.engaged = false;
            self.grip = 0.0;
            self.brake(Phase::Hold);
        }
    }

    fn wanted_speed(&self, contact: &Contact, mood: f64) -> f64 {
        let unsteady = (1.0 + self.scenario.operator.jerkiness * mood).max(0.15);
        match &self.scenario.mode {
            Mode::WristStrokes {
                speed_deg_s,
                clamp_speed_deg_s,
                ..
            } => {
                let share = contact.torque / self.scenario.bolt.target_nm;
                let slow = quintic((share - 0.05) / 0.15);
                let base = (speed_deg_s + (clamp_speed_deg_s - speed_deg_s) * slow).to_radians();
                let left = (self.stroke_end - self.turning.angle).max(0.0);
                (base * unsteady).min((0.8 * self.turning.agility * left).sqrt())
            }
            Mode::PoweredSpindle { .. } => self.steps[self.step].1,
        }
    }

    fn drive(&mut self) {
        let left = self.stroke_end - self.turning.angle;
        self.pause_at = if !self.is_spindle()
            && self.rng.random::<f64>() < self.scenario.operator.pause_chance
        {
            self.turning.angle + left * self.rng.random_range(0.1..0.9)
        } else {
            f64::INFINITY
        };
        self.from = self.ease;
        self.drop_from = self.height - self.lifted;
        self.enter(Phase::Drive, REGRIP_S);
    }
}
