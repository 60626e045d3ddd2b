//! Which weights the readings have in the axial moment, and how they are carried along.
//!
//! A solution of [`Posterior`] costs more than all else that is done with a sample, and its weights
//! change as slowly as the pose. So they stand for a few samples, and each sample takes the moment, and
//! what is not known of it, with its own pose and its own readings: with the weights `k` of the
//! readings `τ = H w + e`, the moment `c · w` is
//!
//! `c·w = k·τ + (c − Hᵀk)·w − k·e`.
//!
//! When the weights were taken, `d₀ = c − Hᵀk` was what the prior had to answer for, with the variance
//! `v₀`. What has been added to it since, `d = c − Hᵀk − d₀`, is small and goes by the last posterior,
//! of mean `ŵ` and covariance `P`:
//!
//! value `k·τ + d·ŵ`, variance `kᵀRk + v₀ + dᵀPd + Σ (dᵢ σᵢ)²`,
//!
//! with `R` as it is now and `σ` for what the wrench itself has changed by, see [`CHANGED_PART`]. With
//! fresh weights `d = 0`, and both are those of the posterior. Stale weights are no longer the best,
//! but the stated variance is that of the weights in use.

use core::array::from_fn;

use crate::arm::{ArmModel, ArmPose, Transform};
use crate::math::{Vec3, cross, sqrt, sub, transposed};

use super::axial::AxialTorque;
use super::health::JointHealth;
use super::joints::{
    ArmReading, Channel, JointSight, JointWrench, MomentAxis, WrenchEstimate, square, tool_load,
};
use super::posterior::{Functional, Posterior, Readings, Row};
use super::side::{SideMoment, perpendicular};

/// Samples for which weights stand.
const STANDS: u8 = 4;
/// Standard deviation of what force and moment change by while weights stand, as a part of their
/// prior: a hand's push of tens of newtons within some milliseconds (common practice, no source).
const CHANGED_PART: f32 = 0.1;

/// Weights of the readings, and what the moment was taken with when they were.
#[derive(Clone, Copy, Debug)]
pub(super) struct Weighing<const N: usize> {
    joints: [f32; N],
    wrist: Row,
    /// `d₀` and `v₀` above.
    left: Row,
    left_variance: f32,
    posterior: Posterior,
    residual_ratio: f32,
    channels: usize,
    age: u8,
}

impl<const N: usize> Weighing<N> {
    /// None yet: they are due.
    pub fn none() -> Self {
        Self {
            joints: [0.0; N],
            wrist: [0.0; 6],
            left: [0.0; 6],
            left_variance: 0.0,
            posterior: Posterior::prior(1.0, 1.0),
            residual_ratio: 0.0,
            channels: 0,
            age: u8::MAX,
        }
    }
}

impl<const N: usize> JointWrench<N> {
    /// The moment about `axis` that the tool exerts on the bolt and, if asked for, the moment across
    /// it at `socket_m` (base frame). Never fails: what cannot be told comes back with an uncertainty
    /// near the prior and `observable = false`. `sights` are those of the same reading. A joint whose
    /// torque cannot be used is left out, and the axial torque is then not shown: with one reading less
    /// nothing vouches for the others.
    ///
    /// The weights of the readings, and what these contradict each other by, are taken anew with every
    /// fourth sample, by up to `put_off` samples later where the caller has other things to do with this
    /// one, and at once where a channel comes or goes.
    ///
    /// Bounded: the same work in every pose; the moment across takes two more functionals.
    pub fn estimate(
        &mut self,
        arm: &ArmModel<N>,
        reading: &ArmReading<'_, N>,
        sights: &[JointSight; N],
        axis: &MomentAxis,
        socket_m: Option<&Vec3>,
        put_off: u8,
    ) -> WrenchEstimate {
        let tip = &reading.pose.tip;
        let row = moment_row(&tip.translation_m, axis);
        let load = reading
            .wrist
            .map(|wrist| tool_load(arm, reading.pose, wrist));
        let usable = sights
            .iter()
            .filter(|sight| sight.health == JointHealth::Usable)
            .count();
        let channels = if load.is_some() { usable + 6 } else { usable };
        if self.is_due(put_off) || self.weighing.channels != channels {
            self.weigh(reading.pose, sights, load.as_ref(), &row, channels);
        }
        let weighing = &mut self.weighing;
        weighing.age = weighing.age.saturating_add(1);
        let mut left = leftover(&row, &weighing.joints, &reading.pose.jacobian);
        let (mut value_nm, mut variance, mut noise_variance) = (0.0, weighing.left_variance, 0.0);
        for ((weight, sight), channel) in weighing.joints.iter().zip(sights).zip(&self.joints) {
            value_nm += weight * sight.external_nm;
            let square = weight * weight;
            noise_variance += square * channel.noise;
            variance += square * sight.external_variance_nm2;
        }
        if let Some(load) = &load {
            left = leftover(&left, &weighing.wrist, &wrist_rows(reading.pose));
            for ((weight, load), channel) in weighing.wrist.iter().zip(load).zip(&self.wrist) {
                value_nm += weight * (load - channel.bias);
                let square = weight * weight;
                noise_variance += square * channel.noise;
                variance += square * channel.systematic;
            }
        }
        let since: Row = from_fn(|k| left[k] - weighing.left[k]);
        let moved = weighing.posterior.functional(&since);
        let [fx, fy, fz, mx, my, mz] = since.map(square);
        variance += moved.variance
            + square(CHANGED_PART * self.prior_force_n) * (fx + fy + fz)
            + square(CHANGED_PART * self.prior_moment_nm) * (mx + my + mz);
        WrenchEstimate {
            axial: AxialTorque {
                value_nm: value_nm + moved.mean,
                noise_nm: sqrt(noise_variance),
                systematic_u_nm: sqrt(variance),
                observable: noise_variance + variance <= square(self.observable_u_nm)
                    && usable == N,
                residual_ratio: weighing.residual_ratio,
            },
            side: socket_m.map(|point_m| side(&weighing.posterior, tip, axis, point_m)),
        }
    }

    /// Whether the next estimate takes the weights anew, as far as that goes by samples.
    pub fn is_due(&self, put_off: u8) -> bool {
        self.weighing.age >= STANDS.saturating_add(put_off)
    }

    /// Takes the weights anew, where they stay: copies of them would cost as much again.
    #[inline(never)]
    fn weigh(
        &mut self,
        pose: &ArmPose<N>,
        sights: &[JointSight; N],
        load: Option<&Row>,
        row: &Row,
        channels: usize,
    ) {
        let weighing = &mut self.weighing;
        let posterior = &mut weighing.posterior;
        *posterior = Posterior::prior(self.prior_force_n, self.prior_moment_nm);
        let external_nm = from_fn(|i| sights[i].external_nm);
        let variances = from_fn(|i| match sights[i].health {
            JointHealth::Usable => self.joints[i].noise + sights[i].external_variance_nm2,
            // Left out.
            _ => f32::INFINITY,
        });
        let mut readings = Readings::new(&pose.jacobian, &external_nm, &variances);
        posterior.fold(&mut readings);
        weighing.left = *row;
        let mut explained = 0.0;
        let mut moment = if let Some(load) = load {
            // Its weights come first: they leave to the others what is theirs.
            let rows = wrist_rows(pose);
            let (moment, weights) = fold_wrist(posterior, load, &self.wrist, &rows, row);
            for (weight, channel) in weights.iter().zip(&self.wrist) {
                explained += weight * weight * (channel.noise + channel.systematic);
            }
            weighing.left = leftover(row, &weights, &rows);
            weighing.wrist = weights;
            moment
        } else {
            posterior.functional(row)
        };
        weighing.joints = readings.weights(&mut moment);
        for (weight, variance) in weighing.joints.iter().zip(&variances) {
            if *weight != 0.0 {
                explained += weight * weight * variance;
            }
        }
        weighing.left = leftover(&weighing.left, &weighing.joints, &pose.jacobian);
        weighing.left_variance = moment.variance - explained;
        let redundant = channels.saturating_sub(6).max(1) as f32;
        weighing.residual_ratio = posterior.unexplained() / redundant;
        weighing.channels = channels;
        weighing.age = 0;
    }
}

/// Folds the wrist's readings in; the moment that `row` stands for, and their weights in it. Out of the
/// way of arms without such a sensor: their stack has no room for it.
#[inline(never)]
fn fold_wrist(
    posterior: &mut Posterior,
    load: &Row,
    channels: &[Channel; 6],
    rows: &[Row; 6],
    row: &Row,
) -> (Functional, Row) {
    let mut readings = Readings::new(
        rows,
        &from_fn(|k| load[k] - channels[k].bias),
        &channels.map(|channel| channel.noise + channel.systematic),
    );
    posterior.fold(&mut readings);
    let mut moment = posterior.functional(row);
    let weights = readings.weights(&mut moment);
    (moment, weights)
}

/// `c − Hᵀk`.
#[inline(always)]
fn leftover<const M: usize>(row: &Row, weights: &[f32; M], rows: &[Row; M]) -> Row {
    let mut left = *row;
    for (weight, row) in weights.iter().zip(rows) {
        for (left, cell) in left.iter_mut().zip(row) {
            *left -= weight * cell;
        }
    }
    left
}

/// The moment across the axis at a point. Out of the way of samples that do not ask for it.
#[inline(never)]
fn side(posterior: &Posterior, tip: &Transform, axis: &MomentAxis, point_m: &Vec3) -> SideMoment {
    let across = perpendicular(&axis.direction).map(|direction| {
        let line = MomentAxis {
            point_m: *point_m,
            direction,
        };
        let moment = posterior.functional(&moment_row(&tip.translation_m, &line));
        (direction, moment.mean, moment.variance)
    });
    SideMoment::from_base(&across, &tip.rotation)
}

/// The moment about a line as a functional of the wrench at the tip.
fn moment_row(tip_m: &Vec3, axis: &MomentAxis) -> Row {
    let a = &axis.direction;
    let lever = cross(a, &sub(tip_m, &axis.point_m));
    [lever[0], lever[1], lever[2], a[0], a[1], a[2]]
}

/// Rows of the wrist's channels (force x y z, moment x y z of the tip frame) in base components.
fn wrist_rows<const N: usize>(pose: &ArmPose<N>) -> [Row; 6] {
    let [x, y, z] = transposed(&pose.tip.rotation);
    let force = |e: Vec3| [e[0], e[1], e[2], 0.0, 0.0, 0.0];
    let moment = |e: Vec3| [0.0, 0.0, 0.0, e[0], e[1], e[2]];
    [
        force(x),
        force(y),
        force(z),
        moment(x),
        moment(y),
        moment(z),
    ]
}
