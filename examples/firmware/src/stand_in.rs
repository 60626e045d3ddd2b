//! TEMPORARY: stands in for `bolting_monitor::monitor::{Monitor, MonitorDescription}` until they are
//! there, so that the link can be proven. It knows nothing of bolts: the last joint or the spindle is
//! taken at its word, and a fall of 5 N·m below the peak is called a strip. To remove: delete this
//! file, and import the real ones in `session.rs`.

use bolting_monitor::detect::{Finding, FindingKind, Quantity};
use bolting_monitor::monitor::Update;
use bolting_monitor::procedure::{BoltJob, Reason, RunSummary, Verdict};
use bolting_monitor::sample::JointSample;
use heapless::Vec;
use serde::{Deserialize, Serialize};

#[derive(Serialize, Deserialize)]
pub struct MonitorDescription {
    pub job: BoltJob,
    pub arm: Option<u8>,
}

pub struct Monitor<const N: usize, const B: usize> {
    peak_nm: f32,
    point_rad: f32,
    last: Option<Update>,
    samples: u32,
}

impl<const N: usize, const B: usize> Monitor<N, B> {
    pub fn try_new(description: &MonitorDescription) -> Result<Self, ()> {
        if description.job.thread_pitch_mm > 0.0 {
            Ok(Self {
                peak_nm: 0.0,
                point_rad: 0.0,
                last: None,
                samples: 0,
            })
        } else {
            Err(())
        }
    }

    pub fn update(&mut self, sample: &JointSample<N>) -> Update {
        self.samples = self.samples.saturating_add(1);
        let (angle_rad, torque_nm) = match (sample.spindle, sample.position_rad.last()) {
            (Some(spindle), _) => (spindle.angle_rad, spindle.torque_nm),
            (None, Some(angle)) => (*angle, sample.torque_nm.last().copied().unwrap_or(0.0)),
            (None, None) => (0.0, 0.0),
        };
        self.peak_nm = self.peak_nm.max(torque_nm);
        let drop_nm = self.peak_nm - torque_nm;
        let permitted = self.last.is_none_or(|last| last.permitted);
        let finding = (permitted && drop_nm > 5.0).then_some(Finding {
            kind: FindingKind::Strip,
            time_us: sample.time_us,
            angle_rad,
            torque_nm,
            torque_u_nm: 0.5,
            slope_nm_per_rad: 0.0,
            slope_u_nm_per_rad: 0.0,
            advance_ratio: None,
            quantity: Quantity::DropNm,
            value: drop_nm,
            limit: 5.0,
        });
        let curve_point = angle_rad >= self.point_rad;
        if curve_point {
            self.point_rad = angle_rad + 0.05;
        }
        let update = Update {
            time_us: sample.time_us,
            torque_nm,
            torque_u_nm: 0.5,
            torque_observable: true,
            angle_rad,
            angle_u_rad: 0.01,
            turning: true,
            snug_seen: false,
            finding,
            permitted: permitted && finding.is_none(),
            curve_point,
        };
        self.last = Some(update);
        update
    }

    pub fn finish(&mut self) -> RunSummary {
        let mut reasons = Vec::new();
        let _ = reasons.push(Reason::NoTarget);
        RunSummary {
            verdict: Verdict::NotAssessable,
            reasons,
            final_torque_nm: self.last.map_or(0.0, |u| u.torque_nm),
            final_torque_u_nm: 0.5,
            final_angle_rad: self.last.map_or(0.0, |u| u.angle_rad),
            final_angle_u_rad: 0.01,
            snug: None,
            samples: self.samples,
            gaps: 0,
            unusable_samples: 0,
        }
    }
}
