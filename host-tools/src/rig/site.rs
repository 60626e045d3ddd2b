//! Where and with what the rehearsal works: the described arm at the described bolt, and its dirt.

use std::path::Path;

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::procedure::{BoltJob, Mode};

use super::RigError;
use crate::description::{Description, Stated};
use crate::simulate::{Arm, Each, JOINTS, Machine, Mounting, Standing};

/// White noise of joint torques where the description leaves it to the tare, N·m: torque sensors in the
/// joints, measured (attribution in the data notes, see `simulate/scenario.rs`).
const NOISE_NM: f64 = 0.06;
/// Dry friction below which a drive cannot lie, N·m: what pre-sliding needs to be told at all.
const LEAST_FRICTION_NM: f64 = 0.01;

/// Angle between two seats of the finest usual socket, twelve points, where none is stated, degrees.
const FINEST_SEAT_DEG: f64 = 30.0;

/// The arm at the bolt.
#[derive(Clone)]
pub struct Site {
    /// The arm with its tool.
    pub machine: Machine,
    /// Where it stands.
    pub standing: Standing,
    /// How far its readings may be from what is stated.
    pub dirt: Arm,
    /// Largest torque that each joint's sensor can read, N·m.
    pub ranges_nm: [f64; JOINTS],
}

impl Site {
    /// The described arm, stood at the described bolt; `None` without an arm.
    ///
    /// # Errors
    /// The arm cannot be moved, or does not reach the bolt.
    pub fn of(description: &Description, stated: &Stated) -> Result<Option<Self>, RigError> {
        let (Some(arm), Some(file)) = (&description.arm, &description.arm_file) else {
            return Ok(None);
        };
        let job = &description.job;
        let machine = machine(arm, file, job, stated)?;
        let line = job
            .bolt_axis
            .map(|line| (line.point_m.map(f64::from), line.direction.map(f64::from)));
        let seat_deg = if stated.has("tool.seat_angle_deg") {
            f64::from(job.tool.seat_rad.to_degrees())
        } else {
            FINEST_SEAT_DEG
        };
        // A stroke has to bring the socket past one seat, or the ratchet past some teeth.
        let least_deg = match job.tool.ratchet_tooth_rad {
            Some(tooth) => 2.0 * f64::from(tooth.to_degrees()),
            None => 1.1 * seat_deg,
        };
        let least_deg = (job.mode == Mode::WristStrokes).then_some(least_deg);
        let standing = (machine.stand(line, least_deg)).map_err(|source| RigError::Arm {
            path: file.clone(),
            source,
        })?;
        Ok(Some(Self {
            dirt: dirt(arm, job, &standing),
            ranges_nm: places(arm, |j| j.torque_range_nm.map_or(f64::INFINITY, f64::from)),
            machine,
            standing,
        }))
    }
}

fn machine(
    arm: &ArmDescription,
    file: &Path,
    job: &BoltJob,
    stated: &Stated,
) -> Result<Machine, RigError> {
    let urdf = std::fs::read_to_string(file).map_err(|source| RigError::Urdf {
        path: file.to_owned(),
        source,
    })?;
    let tool = Mounting {
        axis: job.tool.axis.map(f64::from),
        length_m: f64::from(job.tool.length_m),
        mass_kg: f64::from(arm.tool.mass_kg),
        centre_m: arm.tool.com_m.map(f64::from),
    };
    let tip = stated.words("arm.tip_link").unwrap_or_default();
    let base = stated.words("arm.base_link");
    let gravity = arm.gravity_m_s2.map(f64::from);
    Machine::read(&urdf, base, tip, &tool, gravity).map_err(|source| RigError::Arm {
        path: file.to_owned(),
        source,
    })
}

/// A figure of each joint in the simulator's places, the empty ones first.
fn places(
    arm: &ArmDescription,
    of: impl Fn(&bolting_monitor::arm::JointDescription) -> f64,
) -> [f64; JOINTS] {
    let empty = JOINTS.saturating_sub(arm.joints.len());
    std::array::from_fn(|i| match i.checked_sub(empty) {
        Some(joint) => arm.joints.get(joint).map_or(0.0, &of),
        None => 0.0,
    })
}

/// What is stated as uncertain is truly so far off, one standard deviation; ripple is as large as the
/// noise, as measured on joint torque sensors, for no description states it.
fn dirt(arm: &ArmDescription, job: &BoltJob, standing: &Standing) -> Arm {
    let noise = places(arm, |j| j.torque_noise_nm.map_or(NOISE_NM, f64::from));
    let zero = places(arm, |j| f64::from(j.torque_zero_u_nm));
    let tared = job.tare.duration_s > 0.0;
    let largest = zero.iter().copied().fold(0.0, f64::max);
    let usual = Arm::torque_sensed();
    Arm {
        pose_rad: standing.pose_rad,
        torque_noise_nm: noise,
        torque_quantum_nm: noise.map(|x| 0.1 * x),
        ripple_nm: noise,
        coulomb_nm: places(arm, |j| {
            f64::from(j.friction.coulomb_nm).max(LEAST_FRICTION_NM)
        }),
        viscous_nm_s_per_rad: places(arm, |j| f64::from(j.friction.viscous_nm_s_per_rad)),
        // The stated uncertainty holds cold and warm alike.
        cold_friction: 1.0,
        warm_friction: 1.0,
        // Without a tare the zero is no better known than stated.
        bias_nm: if tared { usual.bias_nm } else { largest },
        mass_error: f64::from(arm.mass_u),
        centre_error_m: 0.0,
        each: Some(Each {
            coulomb_u_nm: places(arm, |j| f64::from(j.friction.coulomb_u_nm)),
            viscous_u_nm_s_per_rad: places(arm, |j| f64::from(j.friction.viscous_u_nm_s_per_rad)),
            drift_nm_per_min: zero,
        }),
        ..usual
    }
}
