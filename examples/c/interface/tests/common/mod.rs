//! Plans of an invented scenario, and memory as a C program would give it.
#![allow(dead_code, reason = "each test file uses its part")]

use core::mem::MaybeUninit;

use bolting_monitor::arm::{ArmDescription, Body, JointDescription, JointFriction, Transform};
use bolting_monitor::fastener::{Fastener, Thread};
use bolting_monitor::procedure::{AxisLine, BoltJob, Goal, Mode, Procedure, Sensing, Tare, Tool};
use bolting_monitor::wire::Plan;
use bolting_monitor_c::*;

/// Memory for any monitor, initialised as a static of C is. The gaps in a monitor are not.
#[repr(C, align(8))]
pub struct Memory(pub [MaybeUninit<u8>; BM_MONITOR_ROOM]);

impl Memory {
    pub fn new() -> Box<Self> {
        Box::new(Self([MaybeUninit::new(0); BM_MONITOR_ROOM]))
    }

    pub fn at(&mut self) -> *mut core::ffi::c_void {
        self.0.as_mut_ptr().cast()
    }
}

pub fn job(mode: Mode) -> BoltJob {
    BoltJob {
        name: "invented bolt 1".try_into().expect("short"),
        fastener: Fastener::new(Thread::metric(10.0, 1.5)),
        goal: Goal::Torque {
            target_nm: 48.0,
            tolerance: 0.1,
        },
        carried_nm: None,
        mode,
        rundown_rad: None,
        elastic_rad: None,
        tool: Tool {
            seat_rad: core::f32::consts::FRAC_PI_6,
            axis: [0.0, 0.0, 1.0],
            windup_nm_per_rad: None,
            ratchet_tooth_rad: None,
            socket_play_rad: None,
            length_m: 0.2,
            side_moment_limit_nm: None,
        },
        bolt_axis: Some(AxisLine {
            point_m: [0.5, 0.0, 0.3],
            direction: [0.0, 0.0, -1.0],
        }),
        sensing: Sensing {
            spindle_noise_nm: Some(0.05),
            spindle_scale_u: 0.01,
            spindle_zero_u_nm: 0.0,
            spindle_angle_counts_driving: false,
            wrist_force_u_n: 1.0,
            wrist_moment_u_nm: 0.05,
            prior_force_n: 200.0,
            prior_moment_nm: None,
        },
        tare: Tare { duration_s: 0.0 },
    }
}

fn arm(joints: usize) -> ArmDescription {
    let joint = |i: usize| JointDescription {
        name: format!("joint {}", i + 1)
            .as_str()
            .try_into()
            .expect("short"),
        origin: Transform {
            translation_m: [0.05, 0.0, 0.15],
            ..Transform::IDENTITY
        },
        axis: if i.is_multiple_of(2) {
            [0.0, 0.0, 1.0]
        } else {
            [0.0, 1.0, 0.0]
        },
        link: Body {
            mass_kg: 1.5,
            com_m: [0.0, 0.0, 0.07],
        },
        friction: JointFriction::NONE,
        torque_noise_nm: Some(0.05),
        torque_zero_u_nm: 0.05,
        torque_range_nm: Some(100.0),
    };
    ArmDescription {
        joints: (0..joints).map(joint).collect(),
        tip: Transform::IDENTITY,
        tool: Body::NONE,
        payload: Body::NONE,
        gravity_m_s2: [0.0, 0.0, -9.81],
        mass_u: 0.02,
        friction_transition_rad_s: 0.02,
    }
}

/// The plan of a spindle alone (0), or of an arm.
pub fn plan(joints: usize) -> Plan {
    let mode = if joints == 0 {
        Mode::PoweredSpindle
    } else {
        Mode::WristStrokes
    };
    let job = job(mode);
    Plan {
        procedure: Procedure::single(job.goal),
        job,
        arm: (joints > 0).then(|| arm(joints)),
    }
}

pub fn blob(plan: &Plan) -> Vec<u8> {
    let mut blob = vec![0; 4096];
    let length = plan.to_blob(&mut blob).expect("a sound plan");
    blob.truncate(length);
    blob
}

pub fn setup(blob: &[u8]) -> Setup {
    Setup {
        struct_size: size_of::<Setup>() as u32,
        abi_version: BM_ABI_VERSION,
        plan: blob.as_ptr(),
        plan_length: blob.len(),
        why: core::ptr::null_mut(),
        why_room: 0,
        pass: 0,
        bolt: 0,
        reserved: [0; 6],
    }
}

pub fn create(memory: &mut Memory, setup: &Setup) -> Result<*mut Handle, Status> {
    let mut monitor = core::ptr::null_mut();
    // SAFETY: memory of that size, a setup and a pointer of this test's own.
    let status =
        unsafe { bm_monitor_create(memory.at(), size_of::<Memory>(), setup, &raw mut monitor) };
    match status {
        Status::Ok => Ok(monitor),
        other => {
            assert!(monitor.is_null());
            Err(other)
        }
    }
}

pub fn update(monitor: *mut Handle, sample: &Sample) -> Result<Update, Status> {
    let mut out = MaybeUninit::<Update>::zeroed();
    // SAFETY: the first field, within the struct.
    unsafe { out.as_mut_ptr().cast::<u32>().write(BM_UPDATE_SIZE as u32) };
    // SAFETY: a monitor's memory, and structs of this test's own.
    match unsafe { bm_monitor_update(monitor, sample, out.as_mut_ptr()) } {
        // SAFETY: zeros are a sound `Update`, too.
        Status::Ok => Ok(unsafe { out.assume_init() }),
        other => Err(other),
    }
}

pub fn summary(monitor: *mut Handle) -> Result<Summary, Status> {
    let mut out = MaybeUninit::<Summary>::zeroed();
    // SAFETY: the first field, within the struct.
    unsafe { out.as_mut_ptr().cast::<u32>().write(BM_SUMMARY_SIZE as u32) };
    // SAFETY: a monitor's memory, and a struct of this test's own.
    match unsafe { bm_monitor_summary(monitor, out.as_mut_ptr()) } {
        // SAFETY: zeros are a sound `Summary`, too.
        Status::Ok => Ok(unsafe { out.assume_init() }),
        other => Err(other),
    }
}

pub fn sample(joints: u32) -> Sample {
    let mut sample = MaybeUninit::uninit();
    // SAFETY: room for a sample.
    let status = unsafe { bm_sample_init(sample.as_mut_ptr(), joints) };
    assert_eq!(status, Status::Ok);
    // SAFETY: written by the call, as its answer says.
    unsafe { sample.assume_init() }
}
