//! From C's structs to the crate's and back.

use bolting_monitor::detect;
use bolting_monitor::monitor;
use bolting_monitor::procedure::RunSummary;
use bolting_monitor::sample::{Context, JointSample, SpindleReading, WristReading};

use crate::numbers::phase_number;
use crate::status::Status;
use crate::structs::*;

const KNOWN_FLAGS: u32 = BM_SAMPLE_VELOCITY
    | BM_SAMPLE_WRIST
    | BM_SAMPLE_SPINDLE
    | BM_SAMPLE_ARM_ENABLED
    | BM_SAMPLE_TOOL_POWERED
    | BM_SAMPLE_TOOL_HELD
    | BM_SAMPLE_PAYLOAD_HELD;

impl Sample {
    /// Zeros of `joints` joints in the usual context: arm enabled, tool powered and held.
    pub(crate) fn of_joints(joints: u32) -> Self {
        Self {
            struct_size: BM_SAMPLE_SIZE as u32,
            flags: BM_SAMPLE_ARM_ENABLED | BM_SAMPLE_TOOL_POWERED | BM_SAMPLE_TOOL_HELD,
            time_us: 0,
            joints,
            position_rad: [0.0; BM_MAX_JOINTS],
            velocity_rad_s: [0.0; BM_MAX_JOINTS],
            torque_nm: [0.0; BM_MAX_JOINTS],
            wrist_force_n: [0.0; 3],
            wrist_moment_nm: [0.0; 3],
            spindle_angle_rad: 0.0,
            spindle_torque_nm: 0.0,
            force_ratio: 1.0,
        }
    }

    pub(crate) fn check(&self, joints: u8) -> Result<(), Status> {
        if self.flags & !KNOWN_FLAGS != 0 {
            return Err(Status::UnknownFlag);
        }
        if self.joints != u32::from(joints) {
            return Err(Status::JointsDiffer);
        }
        Ok(())
    }

    /// The first `N` joints; `N` is at most [`BM_MAX_JOINTS`].
    pub(crate) fn joints<const N: usize>(&self) -> JointSample<N> {
        let is = |flag| self.flags & flag != 0;
        let first = |all: &[f32; BM_MAX_JOINTS]| {
            let mut some = [0.0; N];
            some.iter_mut().zip(all).for_each(|(to, from)| *to = *from);
            some
        };
        JointSample {
            time_us: self.time_us,
            position_rad: first(&self.position_rad),
            velocity_rad_s: is(BM_SAMPLE_VELOCITY).then(|| first(&self.velocity_rad_s)),
            torque_nm: first(&self.torque_nm),
            wrist: is(BM_SAMPLE_WRIST).then_some(WristReading {
                force_n: self.wrist_force_n,
                moment_nm: self.wrist_moment_nm,
            }),
            spindle: is(BM_SAMPLE_SPINDLE).then_some(SpindleReading {
                angle_rad: self.spindle_angle_rad,
                torque_nm: self.spindle_torque_nm,
            }),
            context: Context {
                force_ratio: self.force_ratio,
                arm_enabled: is(BM_SAMPLE_ARM_ENABLED),
                tool_powered: is(BM_SAMPLE_TOOL_POWERED),
                tool_held: is(BM_SAMPLE_TOOL_HELD),
                payload_held: is(BM_SAMPLE_PAYLOAD_HELD),
            },
        }
    }
}

impl Finding {
    const NONE: Self = Self {
        struct_size: BM_FINDING_SIZE as u32,
        kind: 0,
        quantity: 0,
        likely: 0,
        runner_up: 0,
        time_us: 0,
        angle_rad: 0.0,
        torque_nm: 0.0,
        torque_u_nm: 0.0,
        slope_nm_per_rad: 0.0,
        slope_u_nm_per_rad: 0.0,
        advance_ratio: 0.0,
        advance_u: 0.0,
        value: 0.0,
        limit: 0.0,
        stops: false,
        has_advance: false,
        joint: 0,
        reserved: 0,
    };
}

impl From<Option<detect::Finding>> for Finding {
    fn from(found: Option<detect::Finding>) -> Self {
        let Some(f) = found else {
            return Self::NONE;
        };
        let (advance_ratio, advance_u) = f.advance_ratio.unwrap_or_default();
        Self {
            kind: f.kind.wire_code(),
            quantity: f.quantity.wire_code(),
            likely: f.likely.map_or(0, detect::Cause::wire_code),
            runner_up: f.runner_up.map_or(0, detect::Cause::wire_code),
            time_us: f.time_us,
            angle_rad: f.angle_rad,
            torque_nm: f.torque_nm,
            torque_u_nm: f.torque_u_nm,
            slope_nm_per_rad: f.slope_nm_per_rad,
            slope_u_nm_per_rad: f.slope_u_nm_per_rad,
            advance_ratio,
            advance_u,
            value: f.value,
            limit: f.limit,
            stops: f.stops(),
            has_advance: f.advance_ratio.is_some(),
            joint: match f.place {
                Some(detect::Place::Joint(joint)) => joint,
                _ => 0,
            },
            ..Self::NONE
        }
    }
}

impl From<monitor::Update> for Update {
    fn from(u: monitor::Update) -> Self {
        let (side_moment_nm, side_moment_u_nm) = u
            .side_moment
            .map_or(([0.0; 3], 0.0), |s| (s.moment_nm, s.u_nm));
        Self {
            struct_size: BM_UPDATE_SIZE as u32,
            phase: phase_number(u.phase),
            permitted: u.permitted,
            torque_observable: u.torque_observable,
            turning: u.turning,
            time_us: u.time_us,
            torque_nm: u.torque_nm,
            torque_u_nm: u.torque_u_nm,
            angle_rad: u.angle_rad,
            angle_u_rad: u.angle_u_rad,
            side_moment_nm,
            side_moment_u_nm,
            has_side_moment: u.side_moment.is_some(),
            snug_seen: u.snug_seen,
            curve_point: u.curve_point,
            has_finding: u.finding.is_some(),
            stopped: u.stopped,
            reserved: [0; 3],
            finding: u.finding.into(),
        }
    }
}

impl From<RunSummary> for Summary {
    fn from(s: RunSummary) -> Self {
        let mut reasons = [0; 8];
        let told = reasons.iter_mut().zip(&s.reasons);
        let reason_count = told.map(|(to, from)| *to = from.wire_code()).count() as u8;
        let snug = |figure: fn(&bolting_monitor::procedure::Snug) -> f32| {
            s.snug.as_ref().map_or(0.0, figure)
        };
        Self {
            struct_size: BM_SUMMARY_SIZE as u32,
            verdict: s.verdict.wire_code(),
            reason_count,
            has_snug: s.snug.is_some(),
            reserved: 0,
            reasons,
            final_torque_nm: s.final_torque_nm,
            final_torque_u_nm: s.final_torque_u_nm,
            final_angle_rad: s.final_angle_rad,
            final_angle_u_rad: s.final_angle_u_rad,
            snug_angle_rad: snug(|s| s.angle_rad),
            snug_angle_u_rad: snug(|s| s.angle_u_rad),
            snug_torque_nm: snug(|s| s.torque_nm),
            samples: s.samples,
            gaps: s.gaps,
            unusable_samples: s.unusable_samples,
        }
    }
}
