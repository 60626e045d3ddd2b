//! From joint torques (and a wrist sensor, where there is one) to the moment about the bolt axis.

use core::array::from_fn;

use crate::arm::{ArmModel, ArmPose, FrictionEstimate};
use crate::math::{Vec3, cross, rotate, rotate_back, scale, sqrt, sub};
use crate::procedure::Sensing;
use crate::sample::WristReading;

use super::axial::AxialTorque;
use super::posterior::{Folded, Functional, Posterior, Readings, Row};
use super::tare::{Bias, BiasTare};

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
    /// Wrist sensor, if read.
    pub wrist: Option<&'a WristReading>,
}

/// Estimates the axial moment from the arm. Configuration and tare; no memory of past samples
/// beyond the tare.
#[derive(Clone, Debug)]
pub struct JointWrench<const N: usize> {
    prior_force_n: f32,
    prior_moment_nm: f32,
    /// Standard uncertainty above which the torque counts as not observable, N·m.
    observable_u_nm: f32,
    wrist_u: Row,
    mass_u: f32,
    tare: [BiasTare; N],
    wrist_tare: [BiasTare; 6],
    joints: [Channel; N],
    wrist: [Channel; 6],
    gravity_at_tare_nm: [f32; N],
}

/// What is known of one channel before it is read.
#[derive(Clone, Copy, Debug, Default)]
struct Channel {
    bias: f32,
    /// Variance of its white noise.
    noise: f32,
    /// Variance of noise, zero and bias together.
    variance: f32,
}

impl Channel {
    fn new(bias: &Bias, noise: f32, zero_u: f32) -> Self {
        Self {
            bias: bias.bias_nm,
            noise,
            variance: noise + square(zero_u) + bias.bias_variance_nm2,
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
            tare: [BiasTare::default(); N],
            wrist_tare: [BiasTare::default(); 6],
            joints,
            wrist: wrist_u.map(|u| Channel::of_wrist(&unknown, u)),
            gravity_at_tare_nm: [0.0; N],
        }
    }

    /// Adds a sample known to be free of contact to the tare.
    pub fn tare(&mut self, arm: &ArmModel<N>, reading: &ArmReading<'_, N>) {
        for i in 0..N {
            let friction_nm = reading.friction.torque_nm[i];
            let unexplained = reading.torque_nm[i] - reading.pose.gravity_nm[i] - friction_nm;
            self.tare[i].add(unexplained, reading.friction.variance_nm2[i]);
            let (noise, zero) = (arm.torque_noise_nm()[i], arm.torque_zero_u_nm()[i]);
            self.joints[i] = Channel::of_joint(&self.tare[i].result(), noise, zero);
        }
        self.gravity_at_tare_nm = reading.pose.gravity_nm;
        if let Some(wrist) = reading.wrist {
            let load = tool_load(arm, reading.pose, wrist);
            for k in 0..6 {
                self.wrist_tare[k].add(load[k], 0.0);
                self.wrist[k] = Channel::of_wrist(&self.wrist_tare[k].result(), self.wrist_u[k]);
            }
        }
    }

    /// Takes over a tare made on a recording of its own.
    pub fn adopt_tare(&mut self, other: &Self) {
        self.joints = other.joints;
        self.wrist = other.wrist;
        self.gravity_at_tare_nm = other.gravity_at_tare_nm;
    }

    /// The moment about `axis` that the tool exerts on the bolt. Never fails: what cannot be told
    /// comes back with an uncertainty near the prior and `observable = false`.
    pub fn axial_torque(
        &self,
        arm: &ArmModel<N>,
        reading: &ArmReading<'_, N>,
        axis: &MomentAxis,
    ) -> AxialTorque {
        let mut posterior = Posterior::prior(self.prior_force_n, self.prior_moment_nm);
        let pose = reading.pose;
        let external_nm = from_fn(|i| {
            reading.torque_nm[i]
                - pose.gravity_nm[i]
                - reading.friction.torque_nm[i]
                - self.joints[i].bias
        });
        let variances = from_fn(|i| {
            let gravity_u = self.mass_u * (pose.gravity_nm[i] - self.gravity_at_tare_nm[i]);
            self.joints[i].variance + reading.friction.variance_nm2[i] + gravity_u * gravity_u
        });
        let joints = posterior.fold(Readings::new(&pose.jacobian, &external_nm, &variances));
        let wrist = reading
            .wrist
            .map(|wrist| self.fold_wrist(&mut posterior, &tool_load(arm, pose, wrist), pose));
        let channels = if wrist.is_some() { N + 6 } else { N };

        let arm_m = sub(&pose.tip.translation_m, &axis.point_m);
        let lever = cross(&axis.direction, &arm_m);
        let a = &axis.direction;
        let mut moment = posterior.functional(&[lever[0], lever[1], lever[2], a[0], a[1], a[2]]);
        let mut noise_variance = 0.0;
        if let Some(wrist) = &wrist {
            noise_variance += noise(wrist, &mut moment, &self.wrist);
        }
        noise_variance += noise(&joints, &mut moment, &self.joints);
        let redundant = channels.saturating_sub(6).max(1) as f32;
        AxialTorque {
            value_nm: moment.mean,
            noise_nm: sqrt(noise_variance),
            systematic_u_nm: sqrt(moment.variance - noise_variance),
            observable: moment.variance <= square(self.observable_u_nm),
            residual_ratio: posterior.unexplained() / redundant,
        }
    }

    // Out of the way of arms without such a sensor: their stack has no room for it.
    #[inline(never)]
    fn fold_wrist(&self, posterior: &mut Posterior, load: &Row, pose: &ArmPose<N>) -> Folded<6> {
        posterior.fold(Readings::new(
            &from_fn(|k| wrist_row(pose, k)),
            &from_fn(|k| load[k] - self.wrist[k].bias),
            &self.wrist.map(|channel| channel.variance),
        ))
    }
}

/// Variance that the noise of readings puts into a moment.
fn noise<const M: usize>(
    readings: &Folded<M>,
    moment: &mut Functional,
    channels: &[Channel; M],
) -> f32 {
    let mut sum = 0.0;
    for (weight, channel) in readings.weights(moment).iter().zip(channels) {
        sum += square(*weight) * channel.noise;
    }
    sum
}

fn square(x: f32) -> f32 {
    x * x
}

/// Row of wrist channel `k` (force x y z, moment x y z of the tip frame) in base components.
fn wrist_row<const N: usize>(pose: &ArmPose<N>, k: usize) -> Row {
    let r = &pose.tip.rotation;
    let axis = |j: usize| {
        rotate(
            r,
            &[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]][j % 3],
        )
    };
    let e = axis(k);
    if k < 3 {
        [e[0], e[1], e[2], 0.0, 0.0, 0.0]
    } else {
        [0.0, 0.0, 0.0, e[0], e[1], e[2]]
    }
}

/// The wrist reading less the weight of the tool, tip frame.
fn tool_load<const N: usize>(arm: &ArmModel<N>, pose: &ArmPose<N>, wrist: &WristReading) -> Row {
    let tool = arm.tool();
    let g = rotate_back(&pose.tip.rotation, arm.gravity_m_s2());
    let weight = scale(&g, tool.mass_kg);
    let moment = cross(&tool.com_m, &weight);
    let (f, m) = (&wrist.force_n, &wrist.moment_nm);
    // The arm carries the weight, so the sensor reads it with the opposite sign.
    [
        f[0] + weight[0],
        f[1] + weight[1],
        f[2] + weight[2],
        m[0] + moment[0],
        m[1] + moment[1],
        m[2] + moment[2],
    ]
}
