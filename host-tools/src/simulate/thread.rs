//! The bolt: which torque resists turning, and how far it has advanced, by bolt angle.

use rand::Rng;
use rand_distr::StandardNormal;

use super::scenario::{Bolt, Fault};

/// Spacing of the tables of surface grain, rad.
const GRID: f64 = 0.5 * std::f64::consts::PI / 180.0;

/// A random profile over angle, of unit standard deviation, that stays alike over a given angle.
struct Grain(Vec<f64>);

impl Grain {
    fn new(span_rad: f64, correlation_rad: f64, rng: &mut impl Rng) -> Self {
        let keep = (-GRID / correlation_rad).exp();
        let kick = (1.0 - keep * keep).sqrt();
        let mut x: f64 = rng.sample(StandardNormal);
        let points = (span_rad / GRID) as usize + 2;
        Self(
            std::iter::repeat_with(|| {
                x = keep * x + kick * rng.sample::<f64, _>(StandardNormal);
                x
            })
            .take(points)
            .collect(),
        )
    }

    fn at(&self, angle: f64) -> f64 {
        let u = (angle / GRID).clamp(0.0, (self.0.len() - 2) as f64);
        let i = u as usize;
        self.0[i] + (self.0[i + 1] - self.0[i]) * (u - i as f64)
    }
}

fn smoothstep(x: f64) -> f64 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// The thread of one run. Angles in rad from the start of the run, torques in N·m.
pub(super) struct Thread {
    bolt: Bolt,
    fault: Fault,
    surface: Grain,
    clamp: Grain,
    tooth: Grain,
    pub snug: f64,
    /// Slope of the elastic line, N·m/rad.
    pub rate: f64,
    /// Where the thread begins to fail.
    pub onset: Option<f64>,
}

impl Thread {
    pub fn new(bolt: &Bolt, fault: &Fault, rng: &mut impl Rng) -> Self {
        let snug = bolt.rundown_turns * std::f64::consts::TAU;
        let elastic = bolt.elastic_deg.to_radians();
        let level = bolt.running_nm + bolt.locking.as_ref().map_or(0.0, |l| l.torque_nm);
        let rate = (bolt.target_nm - level) / elastic;
        let onset = match fault {
            Fault::None => None,
            Fault::Strip { onset_fraction, .. } => {
                Some(snug + (onset_fraction * bolt.target_nm - level).max(0.0) / rate)
            }
            Fault::CrossThread { onset_turns, .. } => Some(onset_turns * std::f64::consts::TAU),
        };
        // Room for everything that a stripped thread can still turn.
        let span = snug + 3.0 * elastic + 8.0 * std::f64::consts::TAU;
        Self {
            surface: Grain::new(span, bolt.grain_correlation_deg.to_radians(), rng),
            clamp: Grain::new(span, 4f64.to_radians(), rng),
            tooth: Grain::new(span, 10f64.to_radians(), rng),
            bolt: bolt.clone(),
            fault: fault.clone(),
            snug,
            rate,
            onset,
        }
    }

    /// Torque of the rundown, locking feature included, without grain.
    pub fn level(&self, angle: f64) -> f64 {
        self.bolt.running_nm + self.locking(angle)
    }

    fn locking(&self, angle: f64) -> f64 {
        let turns = angle / std::f64::consts::TAU;
        self.bolt.locking.as_ref().map_or(0.0, |l| {
            l.torque_nm * smoothstep((turns - l.entry_turns) / l.rise_turns)
        })
    }

    /// Clamping torque of a sound thread at an angle beyond snug: a quadratic toe that runs
    /// smoothly into the elastic line through snug, and a rounded yield.
    fn clamping(&self, x: f64) -> f64 {
        let toe = 0.5 * self.bolt.toe * self.bolt.elastic_deg.to_radians();
        let line = if x <= -toe {
            0.0
        } else if x < toe {
            self.rate * (x + toe) * (x + toe) / (4.0 * toe)
        } else {
            self.rate * x
        };
        let Some(start) = self.bolt.yield_nm.map(|y| y - self.level(self.snug)) else {
            return line;
        };
        let past = (line - start).max(0.0) / self.rate;
        let (rest, knee) = (0.07, 20f64.to_radians());
        line.min(start)
            + self.rate * (rest * past + (1.0 - rest) * knee * (1.0 - (-past / knee).exp()))
    }

    /// Torque of a sound bolt without grain.
    pub fn expected(&self, angle: f64) -> f64 {
        self.level(angle) + self.clamping(angle - self.snug)
    }

    /// Torque that the bolt resists turning with, when it turns.
    pub fn resistance(&self, angle: f64) -> f64 {
        let surface = self.surface.at(angle);
        let locking = self.bolt.locking.as_ref().map_or(0.0, |l| l.grain);
        let level = self.bolt.running_nm * (1.0 + self.bolt.grain * surface).max(0.1)
            + self.locking(angle) * (1.0 + locking * surface).max(0.1);
        let rough = 1.0 + self.bolt.clamp_grain * self.clamp.at(angle);
        let clamp = self.clamping(angle - self.snug);
        let past = self.onset.map_or(0.0, |o| (angle - o).max(0.0));
        match &self.fault {
            Fault::Strip {
                drop_deg,
                plateau,
                roughness,
                ..
            } if past > 0.0 => {
                // The line bends over a few degrees while the first thread shears, then falls.
                let bend = (0.12 * drop_deg).to_radians();
                let at_onset = self.clamping(angle - past - self.snug);
                let held =
                    at_onset + self.rate.min(at_onset / bend) * bend * (1.0 - (-past / bend).exp());
                let fall = smoothstep(past / drop_deg.to_radians());
                let worn = 0.6 + 0.4 * (-past / (2.0 * std::f64::consts::TAU)).exp();
                let floor = plateau * worn * (1.0 + roughness * self.tooth.at(angle)).max(0.2);
                level + held * rough * (1.0 - fall + fall * floor)
            }
            Fault::CrossThread {
                growth_turns,
                growth_power,
                roughness,
                ..
            } if past > 0.0 => {
                let x = past / (growth_turns * std::f64::consts::TAU);
                let bind = self.bolt.target_nm * x.powf(*growth_power);
                level + bind * (1.0 + roughness * self.tooth.at(angle)).max(0.2)
            }
            _ => level + clamp * rough,
        }
    }

    /// Torque that the bolt resists being turned back with. Thread and head friction hold it,
    /// the thread's slope helps to undo it (sign change of P/2pi in T(F), ISO 16047 form).
    pub fn resistance_back(&self, angle: f64) -> f64 {
        self.resistance(angle) * self.undoing_ratio()
    }

    fn undoing_ratio(&self) -> f64 {
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
        (torque - self.level(angle)).max(0.0) / (pitch + friction)
    }

    /// How far the head has come by this bolt angle, m. Beyond snug the head moves only by what the
    /// parts under it yield; a bolt stretches about alike in every joint, the parts do the rest.
    pub fn advance(&self, angle: f64) -> f64 {
        let per_rad = self.bolt.pitch_mm * 1e-3 / std::f64::consts::TAU;
        let (straight, ratio) = match (&self.fault, self.onset) {
            (Fault::CrossThread { advance_ratio, .. }, Some(o)) => (o, *advance_ratio),
            (_, onset) => {
                let clamp = self.clamp_advance_ratio();
                let clamped =
                    (onset.unwrap_or(f64::INFINITY).min(angle) - self.snug).max(0.0) * clamp;
                return per_rad * (angle.min(self.snug) + clamped);
            }
        };
        per_rad * (angle.min(straight) + (angle - straight).max(0.0) * ratio)
    }

    fn clamp_advance_ratio(&self) -> f64 {
        self.bolt.elastic_deg / (self.bolt.elastic_deg + 60.0)
    }
}

/// Torque per preload, m: `T = F (P/2pi + mu (0.577 d2 + Db/2))` (ISO 16047 form, from memory),
/// with the pitch diameter of ISO 724 and a mean head diameter of 1.3 d.
pub(super) fn moment_arms(diameter_mm: f64, pitch_mm: f64, friction: f64) -> [f64; 2] {
    let pitch_diameter = diameter_mm - 0.6495 * pitch_mm;
    [
        pitch_mm * 1e-3 / std::f64::consts::TAU,
        friction * 1e-3 * (0.577 * pitch_diameter + 0.65 * diameter_mm),
    ]
}
