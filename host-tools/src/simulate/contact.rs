//! Socket, ratchet and wind-up between the turning flange and the bolt head.
//!
//! Without inertia: at every moment the torque in the spring equals what the bolt resists with,
//! or the bolt stands still.

use super::thread::Thread;

/// A ratchet: angle of a tooth in rad and drag in N·m.
#[derive(Clone, Copy)]
pub(super) struct Ratchet {
    pub tooth: f64,
    pub drag: f64,
}

/// What a worn or weak head still carries.
#[derive(Clone, Copy)]
pub(super) struct Grip {
    /// Torque at which the socket slips over the corners, N·m.
    pub torque: f64,
    /// Grip of each seat as a part of the one before.
    pub wear: f64,
    /// Angle from seat to seat, rad.
    pub seat: f64,
}

pub(super) struct Contact {
    /// Stiffness from the commanded angle to the head, N·m/rad.
    pub stiffness: f64,
    /// Free angle from flank to flank, rad.
    pub play: f64,
    breakaway: f64,
    ratchet: Option<Ratchet>,
    /// Limit of what the head carries, if it has one.
    pub grip: Option<Grip>,
    /// Torque above and below the resistance with which the bolt sticks and slips, as a part.
    pub stick: f64,
    /// How often the socket has slipped.
    pub slips: usize,
    /// Angle left until a slipping socket grips again, rad.
    slipping: Option<f64>,
    command: f64,
    /// Commanded angle less socket angle, and what it is when the pawl is home.
    offset: f64,
    home: f64,
    /// Bolt angle, rad.
    pub bolt: f64,
    /// Torque on the bolt, N·m.
    pub torque: f64,
    /// Torque with which the bolt last turned on, N·m.
    pub last_turning: f64,
    /// Whether the bolt turned in the last step.
    pub turned: bool,
    off: bool,
    still_s: f64,
    restart: f64,
}

/// Standstill after which the bolt has to be broken loose again, s.
const STICK_S: f64 = 0.05;
/// Bolt angle over which the extra torque of breaking loose dies away, rad.
const BREAK_RAD: f64 = 0.03;
/// Torque of a socket that scrapes over a corner, as a part of what the seat carries.
const SCRAPE: f64 = 0.15;
/// Largest step of the bolt between two looks at its resistance, rad.
const STEP_RAD: f64 = 1e-3;

impl Contact {
    /// A socket set down with the head at `relative` (rad) from the middle of the play.
    pub fn new(
        stiffness: f64,
        play: f64,
        breakaway: f64,
        ratchet: Option<Ratchet>,
        command: f64,
        relative: f64,
    ) -> Self {
        Self {
            stiffness,
            play,
            breakaway,
            ratchet,
            grip: None,
            stick: 0.0,
            slips: 0,
            slipping: None,
            command,
            offset: command - relative,
            home: command - relative,
            bolt: 0.0,
            torque: 0.0,
            last_turning: 0.0,
            turned: false,
            off: false,
            still_s: 1.0,
            restart: 0.0,
        }
    }

    /// Off the head: no torque.
    pub fn lifted(&mut self) {
        self.off = true;
        self.slipping = None;
        self.torque = 0.0;
        self.turned = false;
        self.still_s = STICK_S;
        self.restart = self.bolt;
    }

    /// Whether the socket was off the head in the last step.
    pub fn is_lifted(&self) -> bool {
        self.off
    }

    /// How far the socket is turned from the middle of the play of the nearest seat, rad.
    pub fn mismatch(&self, command: f64, seat: f64) -> f64 {
        let delta = command - self.home - self.bolt;
        delta - seat * (delta / seat).round()
    }

    /// Puts the socket on the nearest seat.
    pub fn reseat(&mut self, command: f64, seat: f64) {
        let delta = command - self.home - self.bolt;
        self.home += seat * (delta / seat).round();
        self.offset = self.home;
    }

    fn spring(&self, socket: f64) -> f64 {
        let delta = socket - self.bolt;
        let past = delta - delta.clamp(-0.5 * self.play, 0.5 * self.play);
        self.stiffness * past
    }

    /// Torque of the spring with the commanded angle at `command` and the bolt where it is.
    pub fn wound(&self, command: f64) -> f64 {
        self.spring(command - self.offset)
    }

    fn resists(&self, thread: &Thread, bolt: f64) -> f64 {
        let extra = self.breakaway * (-(bolt - self.restart).max(0.0) / BREAK_RAD).exp();
        thread.resistance(bolt) * (1.0 + extra)
    }

    /// Moves the commanded angle and lets bolt, socket and ratchet follow.
    pub fn turn(&mut self, command: f64, thread: &Thread, dt: f64) {
        self.off = false;
        let forward = (command - std::mem::replace(&mut self.command, command)).max(0.0);
        self.turned = false;
        if self.slips_on(forward, thread) {
            self.stands(dt);
            return;
        }
        self.slip_ratchet(command);
        let socket = command - self.offset;
        let mut torque = self.spring(socket);
        let back = -thread.resistance_back(self.bolt);
        if torque > self.resists(thread, self.bolt) * (1.0 + self.stick) {
            torque = self.advance(socket, thread);
            self.turned = true;
            // A bolt that a settling joint lets creep on is not turned on.
            if forward > 0.0 {
                self.last_turning = torque;
            }
        } else if torque < back {
            self.bolt -= (back - torque) / self.stiffness;
            torque = back;
            self.turned = true;
        }
        if self.turned {
            self.still_s = 0.0;
        } else {
            self.stands(dt);
        }
        self.torque = torque;
        self.slip(torque);
    }

    fn stands(&mut self, dt: f64) {
        self.still_s += dt;
        if self.still_s > STICK_S {
            self.restart = self.bolt;
        }
    }

    /// Lets the socket go over the corners of the head when they carry no more.
    fn slip(&mut self, torque: f64) {
        if let Some(grip) = &mut self.grip
            && torque > grip.torque
        {
            // It grips again one seat after it last began to.
            self.slipping = Some(grip.seat - torque / self.stiffness);
            grip.torque *= grip.wear;
            self.slips += 1;
        }
    }

    /// Moves a slipping socket on towards the next seat; false once it grips.
    fn slips_on(&mut self, forward: f64, thread: &Thread) -> bool {
        let (Some(left), Some(grip)) = (self.slipping, self.grip) else {
            return false;
        };
        let left = left - forward;
        if left <= 0.0 {
            self.slipping = None;
            self.home = self.command - self.bolt - 0.5 * self.play;
            self.offset = self.home;
            return false;
        }
        self.slipping = Some(left);
        // It scrapes over the corner, hardest half way.
        let corner = (std::f64::consts::PI * left / grip.seat).sin().powi(2);
        let scrape = SCRAPE * grip.torque * corner * thread.raggedness(self.command);
        self.torque = if forward > 0.0 {
            scrape.min(thread.resistance(self.bolt))
        } else {
            0.0
        };
        true
    }

    /// Turns the bolt on until spring and resistance balance.
    fn advance(&mut self, socket: f64, thread: &Thread) -> f64 {
        let pull = |bolt: f64| self.stiffness * (socket - 0.5 * self.play - bolt);
        // A bolt that jumps comes to rest below its resistance.
        let holds = |bolt: f64| self.resists(thread, bolt) * (1.0 - self.stick);
        let (mut low, mut high) = (self.bolt, self.bolt + STEP_RAD);
        while pull(high) > holds(high) {
            low = high;
            high += STEP_RAD;
        }
        for _ in 0..24 {
            let middle = 0.5 * (low + high);
            if pull(middle) > holds(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        let torque = pull(low);
        self.bolt = low;
        torque
    }

    fn slip_ratchet(&mut self, command: f64) {
        let Some(Ratchet { tooth, drag }) = self.ratchet else {
            return;
        };
        // The pawl climbs each tooth and drops off it.
        let climb = ((command - self.home) / tooth).rem_euclid(1.0);
        let drag = drag * (0.6 + 0.4 * climb);
        let torque = self.spring(command - self.offset);
        let flank = 0.5 * self.play + drag / self.stiffness;
        if torque < -drag {
            self.offset = command - (self.bolt - flank);
            while self.offset <= self.home - tooth {
                self.home -= tooth;
            }
        } else if torque > drag && self.offset < self.home {
            self.offset = self.home.min(command - (self.bolt + flank));
        }
    }
}
