//! What crosses the door: plain structs without padding, checked by their size on both sides.
//!
//! Those that the caller makes hold no `bool` and no `enum`: every bit pattern of them is sound.

use core::ffi::c_char;

/// Version of this interface; `bm_abi_version` says the library's.
pub const BM_ABI_VERSION: u32 = 1;
/// Most joints of an arm.
pub const BM_MAX_JOINTS: usize = 8;
/// Memory that is enough for a monitor of any number of joints on any target, bytes; see
/// `bm_monitor_size` for the exact figure.
pub const BM_MONITOR_ROOM: usize = 24576;
/// Alignment of that memory that is enough on any target, bytes.
pub const BM_MONITOR_ALIGN: usize = 8;
/// Room for any name, its NUL included, bytes.
pub const BM_NAME_ROOM: usize = 32;

/// `bm_sample.flags`: `velocity_rad_s` was read. Without it velocities come from the positions.
pub const BM_SAMPLE_VELOCITY: u32 = 1;
/// `bm_sample.flags`: `wrist_force_n` and `wrist_moment_nm` were read.
pub const BM_SAMPLE_WRIST: u32 = 2;
/// `bm_sample.flags`: `spindle_angle_rad` and `spindle_torque_nm` were read.
pub const BM_SAMPLE_SPINDLE: u32 = 4;
/// `bm_sample.flags`: the switch that couples master and arm is closed.
pub const BM_SAMPLE_ARM_ENABLED: u32 = 8;
/// `bm_sample.flags`: the tool is powered.
pub const BM_SAMPLE_TOOL_POWERED: u32 = 16;
/// `bm_sample.flags`: the gripper holds the tool.
pub const BM_SAMPLE_TOOL_HELD: u32 = 32;
/// `bm_sample.flags`: the payload of the plan is held beside the tool.
pub const BM_SAMPLE_PAYLOAD_HELD: u32 = 64;

/// `sizeof(bm_sample)`.
pub const BM_SAMPLE_SIZE: usize = 152;
/// `sizeof(bm_finding)`.
pub const BM_FINDING_SIZE: usize = 56;
/// `sizeof(bm_update)`.
pub const BM_UPDATE_SIZE: usize = 112;
/// `sizeof(bm_summary)`.
pub const BM_SUMMARY_SIZE: usize = 56;

/// What a monitor is made of. Read only while `bm_monitor_create` runs.
#[repr(C)]
#[derive(Clone, Copy, Debug)]
pub struct Setup {
    /// `sizeof(bm_setup)`.
    pub struct_size: u32,
    /// `BM_ABI_VERSION`.
    pub abi_version: u32,
    /// The blob that `bolting-host plan` wrote.
    pub plan: *const u8,
    /// Its length, bytes.
    pub plan_length: usize,
    /// Where to put what is wrong with the plan, and where, as text; may be null.
    pub why: *mut c_char,
    /// Room there, bytes; 160 is enough for most.
    pub why_room: usize,
    /// The pass, from 0.
    pub pass: u8,
    /// The bolt, from 0.
    pub bolt: u8,
    /// 0: what is not known is refused.
    pub reserved: [u8; 6],
}

/// One reading of the arm. Any bits are taken: a sample with a figure that is no number or absurd,
/// or whose time runs backwards, is counted and otherwise ignored.
#[repr(C)]
#[derive(Clone, Copy, Debug)]
pub struct Sample {
    /// `sizeof(bm_sample)`.
    pub struct_size: u32,
    /// `BM_SAMPLE_…`, added up.
    pub flags: u32,
    /// Time since any fixed origin, us.
    pub time_us: u64,
    /// Joints of the arm, base first; 0 where a spindle is read alone. Beyond them arrays are unread.
    pub joints: u32,
    /// Joint positions, rad.
    pub position_rad: [f32; 8],
    /// Joint velocities, rad/s.
    pub velocity_rad_s: [f32; 8],
    /// Joint torques, N m, as the joint exerts them on the link it moves: a joint that carries a load
    /// against gravity reads the sign that lifts it.
    pub torque_nm: [f32; 8],
    /// Force that the arm exerts on the tool, tip frame, N.
    pub wrist_force_n: [f32; 3],
    /// Moment likewise, about the tip frame's origin, N m.
    pub wrist_moment_nm: [f32; 3],
    /// Spindle angle, rad, counted on over whole turns, tightening positive (right-hand thread).
    pub spindle_angle_rad: f32,
    /// Spindle torque on the bolt, N m, tightening positive (right-hand thread).
    pub spindle_torque_nm: f32,
    /// Ratio of the force at the tool to that at the operator's hand; for the record.
    pub force_ratio: f32,
}

/// A finding, made once, at the sample at which its limit was crossed.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// `sizeof(bm_finding)`; set by the caller for `bm_monitor_silence`, else by the library.
    pub struct_size: u32,
    /// What it is, `BM_FINDING_…`; 0: there is none.
    pub kind: u8,
    /// The quantity that decided, `BM_QUANTITY_…`.
    pub quantity: u8,
    /// What most likely stands behind it, `BM_CAUSE_…`; 0: not told, ...
    pub likely: u8,
    /// ... and what else the evidence would fit.
    pub runner_up: u8,
    /// Mean time of the block of samples in which it was made, us.
    pub time_us: u64,
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Bolt torque, N m.
    pub torque_nm: f32,
    /// Its standard uncertainty, N m.
    pub torque_u_nm: f32,
    /// Local slope of the curve, N m/rad.
    pub slope_nm_per_rad: f32,
    /// Its standard error, N m/rad.
    pub slope_u_nm_per_rad: f32,
    /// Axial advance per turn as a part of the pitch, if `has_advance`, ...
    pub advance_ratio: f32,
    /// ... and its standard uncertainty.
    pub advance_u: f32,
    /// Value of the deciding quantity, ...
    pub value: f32,
    /// ... and the limit that it crossed.
    pub limit: f32,
    /// Whether turning on would do harm.
    pub stops: bool,
    /// Whether the arm tells the advance.
    pub has_advance: bool,
    /// Joint that it points at, counted from the base, the first is 1; 0: none. What a side load points
    /// at is in `bm_update.side_moment_nm`.
    pub joint: u8,
    /// 0.
    pub reserved: u8,
}

/// What the newest block of samples changed that has come to its end: up to 1.5 kHz the sample itself, else
/// about a millisecond of them, up to 2 ms back. Events are told once. Tightening positive.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Update {
    /// `sizeof(bm_update)`; set by the caller.
    pub struct_size: u32,
    /// Where the work stands, `BM_PHASE_…`.
    pub phase: u8,
    /// Whether turning is permitted: from the first usable sample to the first stopping finding, save while
    /// samples that cannot be used are all that comes.
    pub permitted: bool,
    /// Whether the torque can be told in this pose; where false, it must not be shown.
    pub torque_observable: bool,
    /// Whether the bolt was turning.
    pub turning: bool,
    /// Mean time of the block, us.
    pub time_us: u64,
    /// Bolt torque, N m.
    pub torque_nm: f32,
    /// Its standard uncertainty, N m.
    pub torque_u_nm: f32,
    /// Bolt angle since the start of the run, rad.
    pub angle_rad: f32,
    /// Its standard uncertainty, rad.
    pub angle_u_rad: f32,
    /// Moment across the bolt axis at the socket, if `has_side_moment`, tip frame, N m.
    pub side_moment_nm: [f32; 3],
    /// The larger standard uncertainty of its two components, N m.
    pub side_moment_u_nm: f32,
    /// Whether that moment can be told.
    pub has_side_moment: bool,
    /// Set at the sample at which the snug event was seen; again after it was withdrawn.
    pub snug_seen: bool,
    /// Set where an angle step of the curve was closed: a point worth keeping.
    pub curve_point: bool,
    /// Whether there is a new `finding`.
    pub has_finding: bool,
    /// Whether a stopping finding was made in this run: unlike `permitted`, it stays.
    pub stopped: bool,
    /// 0.
    pub reserved: [u8; 3],
    /// The finding.
    pub finding: Finding,
}

/// What is known of a run. Tightening positive.
#[repr(C)]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// `sizeof(bm_summary)`; set by the caller.
    pub struct_size: u32,
    /// The answer, `BM_VERDICT_…`.
    pub verdict: u8,
    /// How many `reasons` there are.
    pub reason_count: u8,
    /// Whether there is a snug point.
    pub has_snug: bool,
    /// 0.
    pub reserved: u8,
    /// Why, `BM_REASON_…`; 0 beyond `reason_count`.
    pub reasons: [u8; 8],
    /// Torque that the bolt carried where it last turned, N m.
    pub final_torque_nm: f32,
    /// Its standard uncertainty (coverage factor 1), N m.
    pub final_torque_u_nm: f32,
    /// Bolt angle since the start of the run, rad.
    pub final_angle_rad: f32,
    /// Its standard uncertainty, rad.
    pub final_angle_u_rad: f32,
    /// Bolt angle at the snug point, if `has_snug`, rad.
    pub snug_angle_rad: f32,
    /// Its standard uncertainty, rad.
    pub snug_angle_u_rad: f32,
    /// Torque at the snug point, N m.
    pub snug_torque_nm: f32,
    /// Samples offered, usable or not.
    pub samples: u32,
    /// Gaps between samples longer than 2.5 usual steps.
    pub gaps: u32,
    /// Samples not used: a figure that is no number or absurd, or time running backwards.
    pub unusable_samples: u32,
}

const _: () = {
    assert!(size_of::<Sample>() == BM_SAMPLE_SIZE);
    assert!(size_of::<Finding>() == BM_FINDING_SIZE);
    assert!(size_of::<Update>() == BM_UPDATE_SIZE);
    assert!(size_of::<Summary>() == BM_SUMMARY_SIZE);
    assert!(BM_MAX_JOINTS == bolting_monitor::arm::MAX_JOINTS);
};
