//! Which weights the readings have in the axial moment, and how they are carried along.
//!
//! A solution of [`Posterior`] costs as much as most of what else is done with a sample, and its weights
//! change as slowly as the pose. So it is taken in [`WEIGHT_PARTS`] parts, with a sample each, from the
//! pose and readings of the first; its weights stand until the next is there, and each sample takes the
//! moment, and what is not known of it, with its own pose and its own readings: with the weights `k` of
//! the readings `τ = H w + e`, the moment `c · w` is
//!
//! `c·w = k·τ + (c − Hᵀk)·w − k·e`.
//!
//! When the weights were taken, `d₀ = c − Hᵀk = P₀⁻¹ P c` was what the prior had to answer for, with the
//! variance `v₀ = d₀ᵀ P₀ d₀`. What has been added to it since, `d = c − Hᵀk − d₀`, is small and goes by the last posterior,
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
use super::joints::{ArmLoad, Channel, JointWrench, MomentAxis, WrenchEstimate, square};
use super::posterior::{Functional, Posterior, Readings, Row};
use super::side::{SideMoment, perpendicular};
use super::wrist::WristLoad;

/// Parts in which weights are taken.
pub const WEIGHT_PARTS: u8 = 4;
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
    /// Usable joints, and whether there was a wrist reading; `None` before the first weights.
    channels: Option<(usize, bool)>,
    next: Next<N>,
}

/// The next weights, as far as they have come.
#[derive(Clone, Copy, Debug)]
struct Next<const N: usize> {
    part: u8,
    row: Row,
    posterior: Posterior,
    readings: Readings<N>,
}

impl<const N: usize> Weighing<N> {
    /// None yet: nothing but the prior is known.
    pub fn none(prior_force_n: f32, prior_moment_nm: f32) -> Self {
        let posterior = Posterior::prior(prior_force_n, prior_moment_nm);
        Self {
            joints: [0.0; N],
            wrist: [0.0; 6],
            left: [0.0; 6],
            left_variance: 0.0,
            posterior,
            residual_ratio: 0.0,
            channels: None,
            next: Next {
                part: 0,
                row: [0.0; 6],
                posterior,
                readings: Readings::NONE,
            },
        }
    }
}

impl<const N: usize> JointWrench<N> {
    /// The moment about `axis` that the tool exerts on the bolt and, if asked for, the moment across
    /// it at `socket_m` (base frame). Never fails: what cannot be told comes back with an uncertainty
    /// near the prior and `observable = false`. A joint whose torque cannot be used is left out, and the axial torque is then not shown: with one reading less
    /// nothing vouches for the others.
    ///
    /// With `renew` it takes the next part of the weights as well; until all parts were taken once, only
    /// the prior is known. Where a wrist sensor comes or goes all are taken at once; where a joint does,
    /// they begin anew.
    ///
    /// Bounded: the same work in every pose; the moment across takes two more functionals.
    #[inline(never)]
    pub fn estimate(
        &mut self,
        arm: &ArmModel<N>,
        reading: &ArmLoad<'_, N>,
        axis: &MomentAxis,
        socket_m: Option<&Vec3>,
        renew: bool,
    ) -> WrenchEstimate {
        let (tip, sights) = (&reading.pose.tip, reading.sights);
        let noise_part = 1.0 / f32::from(reading.samples);
        let row = moment_row(&tip.translation_m, axis);
        let load = reading
            .wrist
            .map(|wrist| self.borne.take_off(arm, reading.pose, wrist));
        let mut usable = 0;
        for sight in sights {
            usable += usize::from(sight.health == JointHealth::Usable);
        }
        let channels = (usable, load.is_some());
        if self.weighing.channels != Some(channels) {
            self.weighing.next.part = 0;
            let read_wrist = self.weighing.channels.is_some_and(|(_, wrist)| wrist);
            if read_wrist != channels.1 {
                while self.weigh(reading, load.as_ref(), &row) {}
            }
            self.weighing.channels = Some(channels);
        }
        if renew {
            self.weigh(reading, load.as_ref(), &row);
        }
        let weighing = &mut self.weighing;
        let mut left = leftover(&row, &weighing.joints, &reading.pose.jacobian);
        let (mut value_nm, mut variance, mut noise_variance) = (0.0, weighing.left_variance, 0.0);
        for ((weight, sight), channel) in weighing.joints.iter().zip(sights).zip(&self.joints) {
            value_nm += weight * sight.external_nm;
            let square = weight * weight;
            noise_variance += square * channel.noise;
            variance += square * sight.external_variance_nm2;
        }
        if let Some(WristLoad { load, variance: by }) = &load {
            left = leftover(&left, &weighing.wrist, &wrist_rows(reading.pose));
            let channels = self.wrist.iter().zip(by);
            for ((weight, load), (channel, by)) in weighing.wrist.iter().zip(load).zip(channels) {
                value_nm += weight * (load - channel.bias);
                let square = weight * weight;
                noise_variance += square * channel.noise;
                variance += square * (channel.systematic + by);
            }
        }
        noise_variance *= noise_part;
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

    /// Takes the next part of the weights; `false` with the last. Where they stay: copies of them would
    /// cost as much again.
    #[inline(never)]
    fn weigh(&mut self, reading: &ArmLoad<'_, N>, load: Option<&WristLoad>, row: &Row) -> bool {
        let (pose, sights) = (reading.pose, reading.sights);
        let noise_part = 1.0 / f32::from(reading.samples);
        let Next {
            part,
            row: begun_with,
            posterior,
            readings,
        } = &mut self.weighing.next;
        *part += 1;
        match *part {
            1 => {
                *begun_with = *row;
                *posterior = Posterior::prior(self.prior_force_n, self.prior_moment_nm);
                let external_nm = from_fn(|i| sights[i].external_nm);
                let variances = from_fn(|i| match sights[i].health {
                    JointHealth::Usable => {
                        noise_part * self.joints[i].noise + sights[i].external_variance_nm2
                    }
                    // Left out.
                    _ => f32::INFINITY,
                });
                *readings = Readings::new(&pose.jacobian, &external_nm, &variances);
                posterior.reflect(readings, 0);
            }
            2 => {
                posterior.reflect(readings, 1);
                posterior.reflect(readings, 2);
            }
            3 => {
                posterior.reflect(readings, 3);
                posterior.reflect(readings, 4);
                posterior.reflect(readings, 5);
                posterior.close(readings);
            }
            _ => {
                *part = 0;
                self.take(pose, load, noise_part);
                return false;
            }
        }
        true
    }

    /// Takes over the weights that are ready, with the wrist's readings of now.
    fn take(&mut self, pose: &ArmPose<N>, load: Option<&WristLoad>, noise_part: f32) {
        let weighing = &mut self.weighing;
        let Next {
            row,
            posterior,
            readings,
            ..
        } = &mut weighing.next;
        let usable = readings.used();
        let (channels, mut moment) = if let Some(load) = load {
            // Its weights come first: they leave to the others what is theirs.
            let wrist = from_fn(|k| Channel {
                noise: noise_part * self.wrist[k].noise,
                systematic: self.wrist[k].systematic + load.variance[k],
                ..self.wrist[k]
            });
            let (moment, left, weights) =
                fold_wrist(posterior, &load.load, &wrist, &wrist_rows(pose), row);
            (weighing.left, weighing.wrist) = (left, weights);
            (usable + 6, moment)
        } else {
            let moment = posterior.functional(row);
            weighing.left = posterior.covariance_with(&moment);
            (usable, moment)
        };
        weighing.joints = readings.weights(&mut moment);
        weighing.left_variance = 0.0;
        let (force, moment) = (square(self.prior_force_n), square(self.prior_moment_nm));
        let prior = [force, force, force, moment, moment, moment];
        for (left, variance) in weighing.left.iter_mut().zip(prior) {
            let with = *left;
            *left /= variance;
            weighing.left_variance += with * *left;
        }
        weighing.posterior = *posterior;
        let redundant = channels.saturating_sub(6);
        weighing.residual_ratio = if redundant > 0 {
            posterior.contradiction(&prior) / redundant as f32
        } else {
            0.0
        };
    }
}

/// Folds the wrist's readings in; the moment that `row` stands for, the covariance times that row, and
/// their weights in it. Out of the
/// way of arms without such a sensor: their stack has no room for it.
#[inline(never)]
fn fold_wrist(
    posterior: &mut Posterior,
    load: &Row,
    channels: &[Channel; 6],
    rows: &[Row; 6],
    row: &Row,
) -> (Functional, Row, Row) {
    let mut readings = Readings::new(
        rows,
        &from_fn(|k| load[k] - channels[k].bias),
        &channels.map(|channel| channel.noise + channel.systematic),
    );
    posterior.fold(&mut readings);
    let mut moment = posterior.functional(row);
    let with = posterior.covariance_with(&moment);
    let weights = readings.weights(&mut moment);
    (moment, with, weights)
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
