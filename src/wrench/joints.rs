//! From joint torques (and a wrist sensor, where there is one) to the moment about the bolt axis.

use crate::arm::{ArmModel, ArmPose, FrictionEstimate};
use crate::math::Vec3;
use crate::procedure::Sensing;
use crate::sample::WristReading;

use super::axial::AxialTorque;
use super::health::{JointHealth, SensorHealth};
use super::inertia::InertiaEstimate;
use super::posterior::Row;
use super::side::SideMoment;
use super::tare::{Bias, BiasTare};
use super::weighing::Weighing;
use super::wrist::Borne;

/// Line about which the moment is wanted, base frame.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct MomentAxis {
    /// A point on the line, m.
    pub point_m: Vec3,
    /// Unit direction.
    pub direction: Vec3,
}

/// What one sample says of the arm, before any bolt is thought of.
#[derive(Clone, Copy, Debug)]
pub struct ArmReading<'a, const N: usize> {
    /// Pose of the arm at this sample.
    pub pose: &'a ArmPose<N>,
    /// Joint torques as read, N·m.
    pub torque_nm: &'a [f32; N],
    /// What joint friction explains.
    pub friction: &'a FrictionEstimate<N>,
    /// What accelerating the arm explains.
    pub inertia: &'a InertiaEstimate<N>,
    /// What the joint torques have been like so far.
    pub health: &'a SensorHealth<N>,
    /// Wrist sensor, if read.
    pub wrist: Option<&'a WristReading>,
    /// Samples of which it is the mean, at least 1.
    pub samples: u8,
}

/// What is left of it when all that the arm explains is taken off.
#[derive(Clone, Copy, Debug)]
pub struct ArmLoad<'a, const N: usize> {
    /// Pose of the arm.
    pub pose: &'a ArmPose<N>,
    /// What each joint says for itself, base first.
    pub sights: &'a [JointSight; N],
    /// Wrist sensor, if read.
    pub wrist: Option<&'a WristReading>,
    /// Samples of which it is the mean, at least 1: white noise is less by that.
    pub samples: u8,
}

/// What one joint says for itself.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JointSight {
    /// Torque as read, N·m.
    pub torque_nm: f32,
    /// Whether that can be used.
    pub health: JointHealth,
    /// Largest torque that the sensor can read, N·m, where known.
    pub range_nm: Option<f32>,
    /// Time for which the reading has not changed by a bit, s, as far as it counts.
    pub silent_s: f32,
    /// What gravity, inertia, friction and tare do not explain, N·m: the load from outside.
    pub external_nm: f32,
    /// The part of its variance that does not average out, N²·m².
    pub external_variance_nm2: f32,
}

/// What one sample says of the wrench.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WrenchEstimate {
    /// Moment about the bolt axis.
    pub axial: AxialTorque,
    /// Moment across it, at the socket; `None` where it was not asked for.
    pub side: Option<SideMoment>,
}

/// Estimates the axial moment from the arm. Configuration, tare, and the weights of the last few
/// samples.
#[derive(Clone, Debug)]
pub struct JointWrench<const N: usize> {
    pub(super) prior_force_n: f32,
    pub(super) prior_moment_nm: f32,
    /// Standard uncertainty above which the torque counts as not observable, N·m.
    pub(super) observable_u_nm: f32,
    wrist_u: Row,
    mass_u: f32,
    range_nm: [Option<f32>; N],
    tare: [BiasTare; N],
    wrist_tare: [BiasTare; 6],
    pub(super) joints: [Channel; N],
    pub(super) wrist: [Channel; 6],
    gravity_at_tare_nm: [f32; N],
    pub(super) borne: Borne<N>,
    pub(super) weighing: Weighing<N>,
}

/// What is known of one channel before it is read.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Channel {
    pub bias: f32,
    /// Variance of its white noise.
    pub noise: f32,
    /// Variance of zero and bias together.
    pub systematic: f32,
}

impl Channel {
    fn new(bias: &Bias, noise: f32, zero_u: f32) -> Self {
        Self {
            bias: bias.bias_nm,
            noise,
            systematic: square(zero_u) + bias.bias_variance_nm2,
        }
    }

    /// Noise of a joint: as stated, else as found in the tare, else what a joint torque sensor shows
    /// at 1 kHz (0.07 N·m rms, the upper end of a measured arm's figures).
    fn of_joint(bias: &Bias, stated_noise_nm: Option<f32>, zero_u_nm: f32) -> Self {
        const UNKNOWN_NOISE_NM: f32 = 0.07;
        let noise = stated_noise_nm
            .map(square)
            .or(bias.noise_variance_nm2)
            .unwrap_or(UNKNOWN_NOISE_NM * UNKNOWN_NOISE_NM);
        Self::new(bias, noise, zero_u_nm)
    }

    fn of_wrist(bias: &Bias, u: f32) -> Self {
        Self::new(bias, bias.noise_variance_nm2.unwrap_or(0.0), u)
    }
}

impl<const N: usize> JointWrench<N> {
    /// From the arm, the sensing figures and the uncertainty above which a torque is not shown.
    pub fn new(
        arm: &ArmModel<N>,
        sensing: &Sensing,
        prior_moment_nm: f32,
        observable_u_nm: f32,
    ) -> Self {
        let (f, m) = (sensing.wrist_force_u_n, sensing.wrist_moment_u_nm);
        let wrist_u = [f, f, f, m, m, m];
        let unknown = Bias::default();
        let mut joints = [Channel::default(); N];
        for i in 0..N {
            let (noise, zero) = (arm.torque_noise_nm()[i], arm.torque_zero_u_nm()[i]);
            joints[i] = Channel::of_joint(&unknown, noise, zero);
        }
        Self {
            prior_force_n: sensing.prior_force_n,
            prior_moment_nm,
            observable_u_nm,
            wrist_u,
            mass_u: arm.mass_u(),
            range_nm: *arm.torque_range_nm(),
            tare: [BiasTare::default(); N],
            wrist_tare: [BiasTare::default(); 6],
            joints,
            wrist: wrist_u.map(|u| Channel::of_wrist(&unknown, u)),
            gravity_at_tare_nm: [0.0; N],
            borne: Borne::NONE,
            weighing: Weighing::none(sensing.prior_force_n, prior_moment_nm),
        }
    }

    /// Adds a sample known to be free of contact to the tare. A joint that cannot be used is passed over;
    /// one that never could be has a bias of any size.
    pub fn tare(&mut self, arm: &ArmModel<N>, reading: &ArmReading<'_, N>) {
        for i in 0..N {
            let (noise, zero) = (arm.torque_noise_nm()[i], arm.torque_zero_u_nm()[i]);
            let health = reading.health.joints()[i];
            if health != JointHealth::Usable {
                if health == JointHealth::Frozen {
                    // It stood still before it was found to.
                    self.tare[i] = BiasTare::default();
                }
                if self.tare[i].count() == 0 {
                    let unknown = Bias {
                        bias_variance_nm2: square(self.prior_moment_nm),
                        ..Bias::default()
                    };
                    self.joints[i] = Channel::of_joint(&unknown, noise, zero);
                }
                continue;
            }
            let friction_nm = reading.friction.torque_nm[i];
            let unexplained = reading.torque_nm[i]
                - reading.pose.gravity_nm[i]
                - reading.inertia.torque_nm[i]
                - friction_nm;
            self.tare[i].add(
                unexplained,
                reading.friction.variance_nm2[i],
                reading.samples,
            );
            self.joints[i] = Channel::of_joint(&self.tare[i].result(), noise, zero);
        }
        self.gravity_at_tare_nm = reading.pose.gravity_nm;
        if let Some(wrist) = reading.wrist {
            let inertia = reading.inertia;
            (self.borne).speeds_up(&inertia.acceleration_rad_s2, inertia.fades);
            let load = self.borne.tare(arm, reading.pose, wrist);
            for k in 0..6 {
                self.wrist_tare[k].add(load[k], 0.0, reading.samples);
                self.wrist[k] = Channel::of_wrist(&self.wrist_tare[k].result(), self.wrist_u[k]);
            }
        }
    }

    /// Takes over a tare made on a recording of its own.
    pub fn adopt_tare(&mut self, other: &Self) {
        self.joints = other.joints;
        self.wrist = other.wrist;
        self.gravity_at_tare_nm = other.gravity_at_tare_nm;
        self.borne = other.borne;
    }

    /// Puts into `sights` what each joint says for itself, base first.
    pub fn look(&mut self, reading: &ArmReading<'_, N>, sights: &mut [JointSight; N]) {
        if reading.wrist.is_some() {
            let inertia = reading.inertia;
            (self.borne).speeds_up(&inertia.acceleration_rad_s2, inertia.fades);
        }
        for (i, sight) in sights.iter_mut().enumerate() {
            *sight = self.sight(reading, i);
        }
    }

    fn sight(&self, reading: &ArmReading<'_, N>, i: usize) -> JointSight {
        let gravity_nm = reading.pose.gravity_nm[i];
        let gravity_u = self.mass_u * (gravity_nm - self.gravity_at_tare_nm[i]);
        let friction = reading.friction;
        JointSight {
            torque_nm: reading.torque_nm[i],
            health: reading.health.joints()[i],
            range_nm: self.range_nm[i],
            silent_s: reading.health.silent_s(i),
            external_nm: reading.torque_nm[i]
                - gravity_nm
                - reading.inertia.torque_nm[i]
                - friction.torque_nm[i]
                - self.joints[i].bias,
            external_variance_nm2: self.joints[i].systematic
                + friction.variance_nm2[i]
                + square(reading.inertia.u_nm[i])
                + gravity_u * gravity_u,
        }
    }
}

pub(super) fn square(x: f32) -> f32 {
    x * x
}
