//! Each finding on synthetic rundowns of an invented M10 bolt, tightened to 48 N·m after five turns;
//! the sound ones first.

mod seat;
mod thread;

extern crate std;
use std::vec::Vec;

use super::*;
use crate::curve::{AngleStep, Level, Window};
use crate::fastener::Band;
use crate::math::TAU;
use crate::turn::AdvanceTracker;
use crate::wrench::AxialTorque;

const TARGET_NM: f32 = 48.0;
/// Snug and its window, turns.
const SNUG: f32 = 5.0;

fn expected() -> ExpectedRun {
    ExpectedRun {
        target_nm: Some(TARGET_NM),
        ceiling_nm: 2.0,
        band_max_nm: Some(2.0),
        ceiling_stated: true,
        least_rate_nm_per_rad: TARGET_NM / 3.0,
        most_rate_nm_per_rad: Some(TARGET_NM / 0.2),
        elastic_rad: Some(Band::new(1.0, 2.0)),
        earliest_snug_rad: Some((SNUG - 0.5) * TAU),
        latest_snug_rad: Some((SNUG + 0.5) * TAU),
        pitch_m: 1.5e-3,
        ..ExpectedRun::UNKNOWN
    }
}

/// A joint that takes a quarter turn to the target, from `snug` turns on.
fn clamp(turns: f32, snug: f32) -> f32 {
    TARGET_NM * 4.0 * (turns - snug).max(0.0)
}

/// Rises from 0 to 1 between two places.
fn ramp(turns: f32, from: f32, to: f32) -> f32 {
    ((turns - from) / (to - from)).clamp(0.0, 1.0)
}

struct Run {
    expected: ExpectedRun,
    /// Torque above 1 N·m of a free thread, by turns.
    torque_nm: fn(f32) -> f32,
    /// Way of the head in pitches, by turns.
    advance: fn(f32) -> f32,
}

impl Default for Run {
    fn default() -> Self {
        Self {
            expected: expected(),
            torque_nm: |turns| clamp(turns, SNUG),
            advance: |turns| turns,
        }
    }
}

impl Run {
    /// Findings and the turns at which they were made; the run ends at the target or after seven.
    fn found(&self) -> Vec<(Detection, f32)> {
        let mut rundown = Rundown::default();
        let (mut window, mut level) = (Window::default(), Level::default());
        let mut advance = AdvanceTracker::default();
        let mut found = Vec::new();
        for i in 1..7 * 720 {
            let turns = i as f32 / 720.0;
            // Grain of 10 % over half a quarter turn, and white noise.
            let grain = 1.0 + 0.1 * (16.0 * turns * TAU).sin();
            let noise = if i % 2 == 0 { 0.05 } else { -0.05 };
            let torque_nm = grain + (self.torque_nm)(turns) + noise;
            let end_rad = turns * TAU;
            let torque = AxialTorque {
                value_nm: torque_nm,
                noise_nm: 0.05,
                systematic_u_nm: 0.1,
                observable: true,
                residual_ratio: 0.0,
            };
            for _ in 0..20 {
                found.extend(
                    rundown
                        .on_sample(&SampleView {
                            tool_rad: 0.0,
                            paused: false,
                            dt_s: 0.001,
                            torque: &torque,
                            expected: &self.expected,
                            turning: true,
                            bolt_rad: end_rad,
                            joints: &[],
                            free_motion: false,
                            side: None,
                            tool_axis: &[0.0, 0.0, 1.0],
                            stale_after_s: 0.1,
                        })
                        .map(|d| (d, turns)),
                );
            }
            let wander = 2e-5 * (3.0 * turns * TAU).sin();
            let way_m = self.expected.pitch_m * (self.advance)(turns) + wander;
            let step = AngleStep {
                advance_m: Some(way_m),
                angle_rad: end_rad - 0.5 * crate::curve::STEP_RAD,
                end_rad,
                width_rad: crate::curve::STEP_RAD,
                torque_nm,
                noise_nm: 0.05,
                systematic_u_nm: 0.1,
                observable: true,
                ..AngleStep::default()
            };
            window.push(step);
            level.add(&window);
            advance.add(step.angle_rad, way_m, step.width_rad);
            found.extend(
                rundown
                    .on_step(&StepView {
                        angle_u_rad: 0.0,
                        step: &step,
                        window: &window,
                        local: window.line(super::super::LOCAL_STEPS).as_ref(),
                        expected: &self.expected,
                        level: &level,
                        snug: false,
                        advance_ratio: advance.ratio(self.expected.pitch_m),
                    })
                    .map(|d| (d, turns)),
            );
            if torque_nm >= TARGET_NM {
                break;
            }
        }
        found
    }

    fn kinds(&self) -> Vec<FindingKind> {
        self.found().iter().map(|(d, _)| d.kind).collect()
    }

    /// The only finding.
    fn only(&self) -> (Detection, f32) {
        let found = self.found();
        assert_eq!(found.len(), 1, "{found:?}");
        found[0]
    }
}

#[test]
fn a_sound_bolt_is_left_in_peace_wherever_its_snug_is_due() {
    for torque_nm in [
        |t| clamp(t, SNUG - 0.4),
        |t| clamp(t, SNUG),
        |t| clamp(t, SNUG + 0.4),
    ] {
        let run = Run {
            torque_nm,
            ..Run::default()
        };
        assert_eq!(run.kinds(), []);
    }
}

#[test]
fn a_second_rise_is_no_news_after_a_stop() {
    let run = Run {
        torque_nm: |t| clamp(t, 2.0).min(20.0) + clamp(t, 3.0),
        ..Run::default()
    };
    let (found, _) = run.only();
    assert!(found.kind.stops());
}
