//! Synthetic runs for the tests of single detectors: an invented M10 bolt, tightened to 48 N·m.

extern crate std;
use std::vec::Vec;

use super::{Detection, Detector, FindingKind, LOCAL_STEPS, SampleView, StepView};
use crate::curve::{AngleStep, Level, Window};
use crate::fastener::{Band, ExpectedRun};
use crate::wrench::AxialTorque;

/// A turn of rundown, then 1 N·m a degree.
pub const SNUG_DEG: f32 = 360.0;
pub const RUNDOWN_NM: f32 = 0.8;

pub const EXPECTED: ExpectedRun = ExpectedRun {
    target_nm: Some(48.0),
    end_nm: Some(Band {
        min: 43.2,
        max: 52.8,
    }),
    elastic_rad: Some(Band {
        min: 0.5,
        max: 1.55,
    }),
    ceiling_nm: 1.5,
    band_max_nm: Some(1.5),
    ceiling_stated: true,
    least_rate_nm_per_rad: 31.0,
    earliest_snug_rad: Some(5.5),
    pitch_m: 1.5e-3,
    ..ExpectedRun::UNKNOWN
};

/// Torque of a sound bolt, N·m, over its angle in degrees.
pub fn sound(deg: f32) -> f32 {
    RUNDOWN_NM + (deg - SNUG_DEG).max(0.0)
}

/// One step of half a degree; `since_stop_deg` counts from the last stop.
#[derive(Clone, Copy)]
pub(crate) struct Turn {
    pub torque_nm: f32,
    pub since_stop_deg: f32,
    pub advance_m: Option<f32>,
}

impl Turn {
    pub fn steady(torque_nm: f32) -> Self {
        Self {
            torque_nm,
            since_stop_deg: 90.0,
            advance_m: None,
        }
    }
}

/// Turns the bolt by degrees; what was found, and at which angle.
pub fn turn(
    detector: &mut dyn Detector,
    until_deg: f32,
    at: impl Fn(f32) -> Turn,
) -> Vec<(Detection, f32)> {
    turn_open(detector, until_deg, |_| 0.01, at)
}

/// As [`turn`], with the standard uncertainty of the bolt angle in rad at each.
pub fn turn_open(
    detector: &mut dyn Detector,
    until_deg: f32,
    u_rad: impl Fn(f32) -> f32,
    at: impl Fn(f32) -> Turn,
) -> Vec<(Detection, f32)> {
    turn_expecting(&EXPECTED, detector, until_deg, u_rad, at)
}

/// As [`turn_open`], of another bolt.
pub fn turn_expecting(
    expected: &ExpectedRun,
    detector: &mut dyn Detector,
    until_deg: f32,
    u_rad: impl Fn(f32) -> f32,
    at: impl Fn(f32) -> Turn,
) -> Vec<(Detection, f32)> {
    let (mut window, mut level) = (Window::default(), Level::default());
    (1..=(2.0 * until_deg) as usize)
        .filter_map(|i| {
            let end_deg = 0.5 * i as f32;
            let now = at(end_deg);
            let step = AngleStep {
                time_us: 10_000 * i as u64,
                angle_rad: (end_deg - 0.25).to_radians(),
                end_rad: end_deg.to_radians(),
                width_rad: 0.5_f32.to_radians(),
                torque_nm: now.torque_nm + if i % 2 == 0 { 0.05 } else { -0.05 },
                noise_nm: 0.05,
                systematic_u_nm: 0.1,
                observable: true,
                advance_m: now.advance_m,
                since_stop_rad: now.since_stop_deg.to_radians(),
            };
            window.push(step);
            if end_deg < SNUG_DEG {
                level.add(&window);
            }
            let found = detector.on_step(&StepView {
                step: &step,
                window: &window,
                local: window.line(LOCAL_STEPS).as_ref(),
                expected,
                level: &level,
                snug: end_deg > SNUG_DEG + 5.0,
                advance_ratio: None,
                angle_u_rad: u_rad(end_deg),
            });
            found.map(|detection| (detection, end_deg))
        })
        .collect()
}

/// One sample of 1 ms: tool angle in degrees, torque in N·m, whether the bolt turns.
pub type Touch = (f32, f32, bool);

/// Shows samples of a bolt well past snug; the first finding and the number of its sample.
pub fn touch(
    detector: &mut dyn Detector,
    samples: impl IntoIterator<Item = Touch>,
) -> Option<(Detection, usize)> {
    touch_at(1e3, detector, samples)
}

/// As [`touch`], of a bolt at an angle in rad.
pub fn touch_at(
    bolt_rad: f32,
    detector: &mut dyn Detector,
    samples: impl IntoIterator<Item = Touch>,
) -> Option<(Detection, usize)> {
    samples
        .into_iter()
        .enumerate()
        .find_map(|(i, (tool_deg, torque_nm, turning))| {
            let noise_nm = if i % 2 == 0 { 0.05 } else { -0.05 };
            let found = detector.on_sample(&SampleView {
                bolt_rad,
                dt_s: 0.001,
                torque: &AxialTorque {
                    value_nm: torque_nm + noise_nm,
                    noise_nm: 0.05,
                    systematic_u_nm: 0.1,
                    observable: true,
                    residual_ratio: 0.0,
                },
                expected: &EXPECTED,
                turning,
                tool_rad: tool_deg.to_radians(),
                paused: false,
                joints: &[],
                free_motion: false,
                side: None,
                tool_axis: &[0.0, 0.0, 1.0],
                stale_after_s: 0.1,
            });
            found.map(|detection| (detection, i))
        })
}

pub fn kinds(found: &[(Detection, f32)]) -> Vec<FindingKind> {
    found.iter().map(|(detection, _)| detection.kind).collect()
}
