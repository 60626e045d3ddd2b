//! What stands between true joint torques and their readings: friction, ripple, zero, noise, quanta.

use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::arm::Joints;
use super::setup::{Arm, JOINTS};

pub(super) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    rng.sample(StandardNormal)
}

pub(super) fn quantise(x: f64, quantum: f64) -> f64 {
    if quantum > 0.0 {
        (x / quantum).round() * quantum
    } else {
        x
    }
}

/// A random walk that is pulled back to zero: about unit standard deviation, correlated over a time.
pub(super) struct Wander([f64; 3]);

impl Wander {
    pub fn new(rng: &mut ChaCha8Rng) -> Self {
        Self([normal(rng); 3])
    }

    /// Moves on by `dt`. Smoothed twice, for it moves masses: without, its acceleration would be
    /// white noise that no hand makes.
    pub fn step(&mut self, dt: f64, time: f64, rng: &mut ChaCha8Rng) -> f64 {
        let Self([walk, first, second]) = self;
        let keep = (-dt / time).exp();
        *walk = keep * *walk + (1.0 - keep * keep).sqrt() * normal(rng);
        let pass = 1.0 - (-5.0 * dt / time).exp();
        *first += (*walk - *first) * pass;
        *second += (*first - *second) * pass;
        *second
    }
}

/// The joints' torque and position readings.
pub(super) struct Readings {
    arm: Arm,
    coulomb: Joints,
    viscous: Joints,
    bias: Joints,
    /// Drift of the zero in one minute, N·m, 1 sigma.
    drift: Joints,
    phase: Joints,
    /// Friction torque at this moment: at rest it stays wherever the last motion left it.
    friction: Joints,
    /// Time in motion so far, s: friction warms up with it.
    moving_s: f64,
    rng: ChaCha8Rng,
}

/// Speed below which friction rises towards its value at rest, rad/s (Stribeck).
const STRIBECK_RAD_S: f64 = 0.02;
/// Speed above which a joint warms up, rad/s.
const MOVES_RAD_S: f64 = 0.02;
/// Periods of the torque ripple in one turn of a joint.
const RIPPLES: f64 = 24.0;

impl Readings {
    pub fn new(arm: &Arm, mut rng: ChaCha8Rng) -> Self {
        let mut vary = |nominal: &[f64; JOINTS], own: Option<[f64; JOINTS]>| {
            Joints::from_fn(|i, _| match own {
                Some(u) => (nominal[i] + u[i] * normal(&mut rng)).max(0.1 * nominal[i]),
                None => nominal[i] * (1.0 + arm.friction_error * normal(&mut rng)).max(0.1),
            })
        };
        let own = arm.each.as_ref();
        let coulomb = vary(&arm.coulomb_nm, own.map(|o| o.coulomb_u_nm));
        let viscous = vary(
            &arm.viscous_nm_s_per_rad,
            own.map(|o| o.viscous_u_nm_s_per_rad),
        );
        let drift = own.map_or([arm.drift_nm_per_min; JOINTS], |o| o.drift_nm_per_min);
        Self {
            bias: Joints::from_fn(|_, _| arm.bias_nm * normal(&mut rng)),
            drift: Joints::from(drift),
            phase: Joints::from_fn(|_, _| std::f64::consts::TAU * rng.random::<f64>()),
            friction: Joints::from_fn(|i, _| coulomb[i] * rng.random_range(-1.0..1.0)),
            moving_s: 0.0,
            arm: arm.clone(),
            coulomb,
            viscous,
            rng,
        }
    }

    /// True Coulomb friction of the run-in joints, N·m.
    pub fn coulomb_nm(&self) -> Joints {
        self.coulomb
    }

    /// True viscous friction, N·m·s/rad.
    pub fn viscous_nm_s_per_rad(&self) -> Joints {
        self.viscous
    }

    /// Moves friction and zero on by `dt`, in which the joints turned by `moved`.
    pub fn advance(&mut self, moved: &Joints, dt: f64) {
        let minutes = (dt / 60.0).sqrt();
        if moved.amax() > MOVES_RAD_S * dt {
            self.moving_s += dt;
        }
        let warmth = self.warmth();
        for i in 0..JOINTS {
            self.bias[i] += self.drift[i] * minutes * normal(&mut self.rng);
            let speed = moved[i].abs() / dt;
            let rise = self.arm.stribeck * (-(speed / STRIBECK_RAD_S).powi(2)).exp();
            let limit = self.coulomb[i] * warmth * (1.0 + rise) * moved[i].signum();
            // Dahl's pre-sliding law, solved exactly over one step.
            let keep = (-3.0 * moved[i].abs() / self.arm.presliding_rad).exp();
            self.friction[i] = limit + (self.friction[i] - limit) * keep;
        }
    }

    /// Friction at this moment against the nominal one.
    fn warmth(&self) -> f64 {
        let Arm {
            cold_friction,
            warm_friction,
            warm_up_s,
            ..
        } = self.arm;
        warm_friction + (cold_friction - warm_friction) * (-self.moving_s / warm_up_s).exp()
    }

    /// Reading of joint torques at a position and velocity.
    pub fn torques(&mut self, rigid: &Joints, q: &Joints, dq: &Joints) -> [f64; JOINTS] {
        let warmth = self.warmth();
        std::array::from_fn(|i| {
            let ripple = self.arm.ripple_nm[i] * (RIPPLES * q[i] + self.phase[i]).sin();
            let noise = self.arm.torque_noise_nm[i] * normal(&mut self.rng);
            let friction = self.friction[i] + self.viscous[i] * warmth * dq[i];
            let torque = rigid[i] + friction + ripple + self.bias[i] + noise;
            quantise(torque, self.arm.torque_quantum_nm[i])
        })
    }

    pub fn positions(&self, q: &Joints) -> [f64; JOINTS] {
        std::array::from_fn(|i| quantise(q[i], self.arm.position_quantum_rad))
    }

    pub fn velocities(&mut self, dq: &Joints) -> [f64; JOINTS] {
        std::array::from_fn(|i| dq[i] + self.arm.velocity_noise_rad_s * normal(&mut self.rng))
    }
}
