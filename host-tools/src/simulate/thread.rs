//! The bolt: which torque resists turning, and how far it has advanced, by bolt angle.
//!
//! Two angles: what the bolt has *turned*, in the direction of the run, and its *place* in the
//! thread, counted from the first thread in the direction of tightening.

use std::f64::consts::TAU;

use rand::Rng;

use super::fault::{Fault, FaultKind};
use super::grain::{Grain, smoothstep};
use super::joint::{as_it_is, moment_arms, toed};
use super::scenario::{Bolt, Direction, Locking, Scenario};

/// Place over which the last thread leaves, rad.
const LAST_THREAD_RAD: f64 = 0.5 * TAU;
/// A thread that does not turn at all, N·m.
const SEIZED_NM: f64 = 1e6;
/// Slope of a galled thread that has seized: the target in so many radians.
const SEIZING_RAD: f64 = 0.17;
/// Joints embed with the logarithm of the time that they stand, from this time on, s, ...
const EMBEDS_FROM_S: f64 = 0.1;
/// ... and their stated part within this time, s.
const EMBEDS_S: f64 = 120.0;
/// Bolt angle over which a bolt that bottoms comes to bear, rad.
const BOTTOM_TOE_RAD: f64 = 0.05;

/// The thread of one run. Angles in rad, torques in N·m.
pub(super) struct Thread {
    bolt: Bolt,
    fault: Fault,
    undoing: bool,
    surface: Grain,
    clamp: Grain,
    tooth: Grain,
    /// Place at which the run begins.
    start: f64,
    /// Place at which the elastic line meets the prevailing-torque line.
    pub snug: f64,
    /// Slope of the elastic line, N·m/rad.
    pub rate: f64,
    /// Angle turned at which the fault begins, where the thread decides it.
    pub onset: Option<f64>,
    settling: Settling,
}

/// What a clamped joint loses while it stands: the parts come closer under the same bolt angle, so
/// clamp force, and with it the torque that the bolt bears, fall together.
#[derive(Default)]
struct Settling {
    /// Bolt angle that is worth what has been lost, rad.
    lost: f64,
    /// Time that the joint has stood, s, and the angle beyond snug that clamped it when it came to
    /// stand, less what had been lost, rad.
    stood_s: f64,
    clamped: f64,
}

impl Thread {
    pub fn new(scenario: &Scenario, rng: &mut impl Rng) -> Self {
        let fault = &scenario.fault;
        let bolt = as_it_is(scenario);
        let planned = scenario.bolt.rundown_turns * TAU;
        let snug = bolt.rundown_turns * TAU;
        let elastic = bolt.elastic_deg.to_radians();
        let level = bolt.running_nm + bolt.locking.as_ref().map_or(0.0, |l| l.torque_nm);
        let rate = (bolt.target_nm - level) / elastic;
        let at = |part: f64| snug + (part * bolt.target_nm - level).max(0.0) / rate;
        let undoing = scenario.direction == Direction::Undo;
        let onset = match fault {
            Fault::NotStarted { .. }
            | Fault::AlreadyTight { .. }
            | Fault::StickSlip { .. }
            | Fault::TurningTogether { .. }
            | Fault::Seized { .. }
            | Fault::SensorDrift { .. } => Some(0.0),
            Fault::CrossThread { onset_turns, .. }
            | Fault::Galling { onset_turns, .. }
            | Fault::ToolLifting { onset_turns, .. }
            | Fault::SensorFrozen { onset_turns, .. }
            | Fault::SamplesStale { onset_turns, .. }
            | Fault::ContactElsewhere { onset_turns, .. }
            | Fault::SideLoad { onset_turns, .. } => Some(onset_turns * TAU),
            Fault::Debris { early_turns, .. } | Fault::Bottoming { early_turns, .. } => {
                Some(snug - early_turns * TAU)
            }
            Fault::FalseSnug {
                early_turns,
                rise_deg,
                ..
            } => Some(snug - early_turns * TAU + rise_deg.to_radians()),
            Fault::MissingPart { .. } => Some(planned),
            Fault::PrevailingLow { .. } => {
                let entered = |l: &Locking| (l.entry_turns + l.rise_turns) * TAU;
                Some(scenario.bolt.locking.as_ref().map_or(0.0, entered))
            }
            Fault::PrevailingHigh { entry_turns, .. } => Some(entry_turns * TAU),
            Fault::Strip { onset_fraction, .. } | Fault::Yield { onset_fraction, .. } => {
                Some(at(*onset_fraction))
            }
            Fault::Fracture { neck_deg, .. } if undoing => Some(neck_deg.to_radians()),
            Fault::Fracture {
                onset_fraction,
                neck_deg,
                ..
            } => Some(at(*onset_fraction) + neck_deg.to_radians()),
            Fault::OverTorque { .. } => {
                Some(at(1.0 + 0.01 * scenario.stated.torque_tolerance_percent))
            }
            Fault::OverAngle { .. } => {
                let window = scenario.stated.elastic_deg + scenario.stated.elastic_tolerance_deg;
                Some(snug + window.to_radians())
            }
            Fault::None
            | Fault::SocketSlip { .. }
            | Fault::UnderTorque { .. }
            | Fault::Relaxation { .. }
            | Fault::DriveStripped { .. }
            | Fault::SensorSaturated { .. } => None,
        };
        let carried = !undoing && scenario.bolt.carried_nm > 0.0;
        let start = match fault {
            _ if undoing => snug + elastic,
            Fault::AlreadyTight { fraction } => at(*fraction),
            _ if carried => at(scenario.bolt.carried_nm / bolt.target_nm),
            _ => 0.0,
        };
        // What begins at a torque or at snug is a place; turned is what is left until there.
        let onset = onset.map(|o| match fault.kind() {
            FaultKind::Strip
            | FaultKind::Yield
            | FaultKind::Fracture
            | FaultKind::OverTorque
            | FaultKind::OverAngle
                if carried =>
            {
                (o - start).max(0.0)
            }
            _ => o,
        });
        // Room for everything that a stripped thread can still turn.
        let span = snug + 3.0 * elastic + 8.0 * TAU;
        Self {
            surface: Grain::new(span, bolt.grain_correlation_deg.to_radians(), rng),
            clamp: Grain::new(span, 4f64.to_radians(), rng),
            tooth: Grain::new(span, 10f64.to_radians(), rng),
            bolt,
            fault: fault.clone(),
            undoing,
            start,
            snug,
            rate,
            onset,
            settling: Settling::default(),
        }
    }

    /// Lets the joint settle for `dt` at a bolt angle, if it stands.
    pub fn settle(&mut self, angle: f64, stands: bool, dt: f64) {
        let clamped = self.place(angle) - self.snug - self.settling.lost;
        // A bolt that was tight before the run settled long ago.
        if self.undoing || angle <= 0.0 || clamped <= 0.0 {
            return;
        }
        if !stands {
            (self.settling.stood_s, self.settling.clamped) = (0.0, clamped);
            return;
        }
        self.settling.stood_s += dt;
        let stood = self.settling.stood_s;
        let embeds = self.bolt.embedding / (1.0 + EMBEDS_S / EMBEDS_FROM_S).ln();
        let mut pace = embeds / (EMBEDS_FROM_S + stood);
        if let Fault::Relaxation { loss, time_s } = self.fault {
            pace += loss / time_s * (-stood / time_s).exp();
        }
        self.settling.lost += (self.settling.clamped * pace * dt).min(clamped);
    }

    /// Whether the joint stands clamped.
    pub fn settles(&self) -> bool {
        self.settling.stood_s > 0.0
    }

    fn place(&self, angle: f64) -> f64 {
        if self.undoing {
            self.start - angle
        } else {
            self.start + angle
        }
    }

    /// Angle turned at which a sound bolt carries this torque, N·m.
    pub fn turned_at(&self, torque: f64) -> f64 {
        let place = self.snug + (torque - self.level(self.snug)).max(0.0) / self.rate;
        (place - self.start).max(0.0)
    }

    /// Angle turned at which the last thread leaves, if the bolt is undone.
    pub fn free_at(&self) -> Option<f64> {
        self.undoing.then_some(self.start)
    }

    /// Torque of the rundown, locking feature included, without grain.
    pub fn level(&self, place: f64) -> f64 {
        self.bolt.running_nm + self.locking(place)
    }

    fn locking(&self, place: f64) -> f64 {
        let turns = place / TAU;
        self.bolt.locking.as_ref().map_or(0.0, |l| {
            l.torque_nm * smoothstep((turns - l.entry_turns) / l.rise_turns)
        })
    }

    /// The same with grain, and fading where the last thread leaves.
    fn running(&self, place: f64) -> f64 {
        let surface = self.surface.at(place);
        let locking = self.bolt.locking.as_ref().map_or(0.0, |l| l.grain);
        let rough = self.bolt.running_nm * (1.0 + self.bolt.grain * surface).max(0.1)
            + self.locking(place) * (1.0 + locking * surface).max(0.1);
        if self.undoing {
            rough * smoothstep(place / LAST_THREAD_RAD)
        } else {
            rough
        }
    }

    /// Clamping torque of a sound thread beyond snug: a quadratic toe that runs smoothly into the
    /// elastic line through snug, and a rounded yield.
    fn clamping(&self, x: f64) -> f64 {
        let x = x - self.settling.lost;
        let toe = 0.5 * self.bolt.toe * self.bolt.elastic_deg.to_radians();
        let line = self.rate * toed(x, toe);
        let Some(start) = self.bolt.yield_nm.map(|y| y - self.level(self.snug)) else {
            return line;
        };
        let past = (line - start).max(0.0) / self.rate;
        let (rest, knee) = (0.07, 20f64.to_radians());
        line.min(start)
            + self.rate * (rest * past + (1.0 - rest) * knee * (1.0 - (-past / knee).exp()))
    }

    /// Torque of a sound bolt without grain, done up.
    #[cfg(test)]
    pub fn expected(&self, angle: f64) -> f64 {
        let place = self.place(angle);
        self.level(place) + self.clamping(place - self.snug)
    }

    /// Torque that the bolt resists turning on with, when it turns.
    pub fn resistance(&self, angle: f64) -> f64 {
        self.torque(angle, self.undoing)
    }

    /// Torque that it resists being turned back with.
    pub fn resistance_back(&self, angle: f64) -> f64 {
        self.torque(angle, !self.undoing)
    }

    /// Thread and head friction hold a clamped bolt either way; the thread's slope helps to undo it
    /// (sign change of P/2pi in T(F), ISO 16047 form).
    fn torque(&self, angle: f64, loosening: bool) -> f64 {
        let place = self.place(angle);
        let running = self.running(place);
        let help = if loosening { self.undoing_ratio() } else { 1.0 };
        let rough = 1.0 + self.bolt.clamp_grain * self.clamp.at(place);
        let clamp = self.clamping(place - self.snug) * rough * help;
        let target = self.bolt.target_nm;
        let past = self.onset.map_or(0.0, |o| angle - o);
        // Never smooth where surfaces break up, never without friction either.
        let ragged = |roughness: f64| (1.0 + roughness * self.tooth.at(place)).max(0.2);
        match &self.fault {
            Fault::NotStarted { drag_part, .. } => running * drag_part,
            Fault::TurningTogether { drag_fraction, .. } => {
                drag_fraction * target * (1.0 + 0.05 * self.surface.at(place))
            }
            Fault::Seized { .. } => SEIZED_NM,
            Fault::CrossThread {
                growth_turns,
                growth_power,
                roughness,
                ..
            } if past > 0.0 => {
                let bind = target * (past / (growth_turns * TAU)).powf(*growth_power);
                running + bind * ragged(*roughness)
            }
            Fault::Debris {
                slope_ratio,
                roughness,
                ..
            } if past > 0.0 => {
                let crush = slope_ratio * self.rate * toed(past - 0.1, 0.1);
                running + crush * ragged(*roughness) * help + clamp
            }
            Fault::FalseSnug {
                height_fraction,
                rise_deg,
                clear_deg,
                ..
            } => {
                let rise = smoothstep(past / rise_deg.to_radians() + 1.0);
                let left = 1.0 - smoothstep(past / clear_deg.to_radians());
                running + height_fraction * target * rise * left + clamp
            }
            Fault::Bottoming {
                rate_nm_per_rad, ..
            } if past > 0.0 => {
                let bear = rate_nm_per_rad * toed(past - BOTTOM_TOE_RAD, BOTTOM_TOE_RAD);
                running + bear * rough * help
            }
            Fault::Galling {
                seize_turns,
                bind_fraction,
                roughness,
                ..
            } if past > 0.0 => {
                let x = past / (seize_turns * TAU);
                let seized = (past - seize_turns * TAU).max(0.0) / SEIZING_RAD;
                let bind = target * (bind_fraction * x.powf(1.5) + seized);
                running + bind * ragged(roughness * x.min(1.0)) + clamp
            }
            Fault::Strip {
                drop_deg,
                plateau,
                roughness,
                ..
            } if past > 0.0 => {
                // The slope dies away while the threads begin to give, then the torque falls.
                let bend = (0.12 * drop_deg).to_radians();
                let at_onset = self.clamping(place - past - self.snug);
                let held =
                    at_onset + self.rate.min(at_onset / bend) * bend * (1.0 - (-past / bend).exp());
                let fall = smoothstep(past / drop_deg.to_radians());
                let worn = 0.6 + 0.4 * (-past / (2.0 * TAU)).exp();
                let floor = plateau * worn * ragged(*roughness);
                running + held * rough * (1.0 - fall + fall * floor) * help
            }
            Fault::Fracture {
                onset_fraction,
                neck_deg,
                drop_deg,
                ..
            } => {
                let fall = smoothstep(past / drop_deg.to_radians());
                let held = if self.undoing {
                    // Nothing moves until the shank twists off.
                    onset_fraction * target * (1.0 + 0.05 * angle / neck_deg.to_radians())
                } else {
                    clamp
                };
                // What is left of the bolt runs freely under the head.
                held * (1.0 - fall) + running * (1.0 - 0.6 * fall)
            }
            _ => running + clamp,
        }
    }

    /// Ragged drag of a socket that slips, about 1, by the angle of the tool.
    pub fn raggedness(&self, tool: f64) -> f64 {
        (1.0 + 0.4 * self.tooth.at(tool.abs())).max(0.1)
    }

    /// Undoing torque over tightening torque of a clamped thread.
    pub fn undoing_ratio(&self) -> f64 {
        let [pitch, friction] = self.moment_arms();
        ((friction - pitch) / (friction + pitch)).max(0.1)
    }

    /// Torque per preload: of the pitch, and of friction at thread and head, m.
    fn moment_arms(&self) -> [f64; 2] {
        moment_arms(
            self.bolt.diameter_mm,
            self.bolt.pitch_mm,
            self.bolt.friction,
        )
    }

    /// Preload that belongs to a clamping torque, N.
    pub fn preload(&self, torque: f64, angle: f64) -> f64 {
        let [pitch, friction] = self.moment_arms();
        (torque - self.level(self.place(angle))).max(0.0) / (pitch + friction)
    }

    /// How far the head has come by this bolt angle since the start, m; negative where it comes out.
    pub fn advance(&self, angle: f64) -> f64 {
        let per_rad = self.bolt.pitch_mm * 1e-3 / TAU;
        let onset = self.onset.unwrap_or(f64::INFINITY);
        match &self.fault {
            Fault::NotStarted { .. } | Fault::TurningTogether { .. } => 0.0,
            Fault::Fracture { .. } if self.undoing => 0.0,
            Fault::CrossThread { advance_ratio, .. } => {
                per_rad * (angle.min(onset) + (angle - onset).max(0.0) * advance_ratio)
            }
            Fault::Strip { .. } | Fault::Fracture { .. } => {
                let at = |angle: f64| self.seated(self.place(angle), self.snug);
                per_rad * (at(angle.min(onset)) - at(0.0))
            }
            Fault::Debris { .. } | Fault::Bottoming { .. } => per_rad * self.seated(angle, onset),
            _ => {
                let at = |place: f64| self.seated(place.max(0.0), self.snug);
                per_rad * (at(self.place(angle)) - at(self.start))
            }
        }
    }

    /// Angle that counts as advance. Beyond snug the head moves only by what the parts under it
    /// yield; a bolt stretches about alike in every joint, the parts do the rest.
    fn seated(&self, place: f64, snug: f64) -> f64 {
        let clamp = self.bolt.elastic_deg / (self.bolt.elastic_deg + 60.0);
        place.min(snug) + (place - snug).max(0.0) * clamp
    }

    /// Whether the head seats as planned at `snug`.
    pub fn seats(&self) -> bool {
        let kind = self.fault.kind();
        !self.undoing
            && self.bolt.carried_nm == 0.0
            && !matches!(
                kind,
                FaultKind::NotStarted
                    | FaultKind::CrossThread
                    | FaultKind::Debris
                    | FaultKind::Bottoming
                    | FaultKind::AlreadyTight
            )
    }
}
