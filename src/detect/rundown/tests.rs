//! Each finding on synthetic rundowns of an invented M10 bolt, tightened to 48 N·m after five turns;
//! the sound ones first.

extern crate std;
use std::vec::Vec;

use super::*;
use crate::curve::{AngleStep, Level, Window};
use crate::detect::Cause;
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
                            stale_after_s: 0.1,
                        })
                        .map(|d| (d, turns)),
                );
            }
            let step = AngleStep {
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
            let wander = 2e-5 * (3.0 * turns * TAU).sin();
            let way_m = self.expected.pitch_m * (self.advance)(turns) + wander;
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

fn locking() -> ExpectedRun {
    ExpectedRun {
        floor_nm: 4.0,
        ceiling_nm: 10.5,
        band_max_nm: Some(10.5),
        ..expected()
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
fn a_locking_feature_that_enters_within_its_band_is_none_of_these() {
    for torque_nm in [
        |t| 7.0 * ramp(t, 0.3, 0.6) + clamp(t, SNUG),
        |t| 7.0 * ramp(t, 2.0, 2.5) + clamp(t, SNUG),
        |t| 7.0 * ramp(t, 3.8, 4.2) + clamp(t, SNUG),
    ] {
        let run = Run {
            expected: locking(),
            torque_nm,
            ..Run::default()
        };
        assert_eq!(run.kinds(), []);
    }
}

#[test]
fn a_crossed_thread_is_told_within_a_sixth_of_a_turn_and_a_third_of_the_target() {
    // Grows to the target within a turn and a half from a third of a turn on.
    let run = Run {
        torque_nm: |t| TARGET_NM * (t - 0.33).max(0.0) / 1.5,
        advance: |t| t.min(0.33) + 0.5 * (t - 0.33).max(0.0),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::CrossThread);
    assert_eq!(found.runner_up, Some(Cause::Debris));
    assert!(turns < 0.33 + 1.0 / 6.0, "{turns}");
}

#[test]
fn without_turns_stated_a_crossed_thread_is_told_by_its_advance_alone() {
    let unstated = ExpectedRun {
        earliest_snug_rad: None,
        latest_snug_rad: None,
        ..expected()
    };
    let straight = Run {
        expected: unstated,
        // Slowly: the advance takes about a turn to tell, and beyond a third of the target the head
        // may have seated.
        torque_nm: |t| TARGET_NM * (t - 0.5).max(0.0) / 4.0,
        ..Run::default()
    };
    assert!(!straight.kinds().contains(&FindingKind::CrossThread));
    let crossed = Run {
        advance: |t| t.min(0.5) + 0.2 * (t - 0.5).max(0.0),
        ..straight
    };
    assert!(crossed.kinds().contains(&FindingKind::CrossThread));
}

#[test]
fn a_locking_feature_that_is_wrong_is_no_crossed_thread_however_early_it_enters() {
    // 0.12 of the target, within 0.6 turns.
    let run = Run {
        torque_nm: |t| 6.0 * ramp(t, 0.2, 0.8) + clamp(t, SNUG),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::PrevailingHigh);
    assert!(turns < 1.5, "{turns}");
}

#[test]
fn a_stated_band_holds_below_what_a_free_thread_may_take_as_well() {
    let run = Run {
        expected: ExpectedRun {
            band_max_nm: Some(1.2),
            ..expected()
        },
        torque_nm: |t| 0.9 * ramp(t, 2.0, 2.5) + clamp(t, SNUG),
        ..Run::default()
    };
    let (found, _) = run.only();
    assert_eq!(found.kind, FindingKind::PrevailingHigh);
    assert!((found.value - 1.9).abs() < 0.15, "{}", found.value);
}

#[test]
fn debris_is_an_early_snug_softer_than_the_joint_and_no_crossed_thread() {
    for (torque_nm, runner_up) in [
        (
            (|t| clamp(t, 1.0) / 1.2) as fn(f32) -> f32,
            Cause::CrossedThread,
        ),
        (|t| clamp(t, 3.0) / 2.0, Cause::WrongPart),
    ] {
        let (found, _) = Run {
            torque_nm,
            ..Run::default()
        }
        .only();
        assert_eq!(found.kind, FindingKind::EarlySnug);
        assert_eq!(found.likely, Some(Cause::Debris));
        assert_eq!(found.runner_up, Some(runner_up));
    }
}

#[test]
fn a_burr_in_the_first_turns_stops_nothing() {
    let run = Run {
        torque_nm: |t| 9.0 * (ramp(t, 0.8, 0.87) - ramp(t, 0.87, 0.93)) + clamp(t, SNUG),
        ..Run::default()
    };
    assert_eq!(run.only().0.kind, FindingKind::FalseSnug);
}

#[test]
fn a_bolt_that_bottoms_softly_is_told_where_it_stops_at_half_the_target() {
    // 48 N·m in ten degrees at first, twice as steep from a fifth on, and no further than a half.
    let run = Run {
        torque_nm: |t| {
            let deg = 360.0 * (t - 3.0).max(0.0);
            let bears_nm = TARGET_NM * (0.1 * deg).max(0.2 * deg - 0.2);
            bears_nm.min(0.5 * TARGET_NM)
        },
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::EarlySnug);
    assert!(turns < 3.0 + 5.0 / 360.0, "{turns}");
}

#[test]
fn a_bolt_that_bottoms_is_told_before_half_the_target() {
    // The target in one and a half degrees.
    let run = Run {
        torque_nm: |t| TARGET_NM * 240.0 * (t - 3.0).max(0.0),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::EarlySnug);
    assert_eq!(found.likely, Some(Cause::Bottoming));
    assert!((run.torque_nm)(turns) < 0.75 * TARGET_NM, "{turns}");
}

#[test]
fn a_burr_that_clears_is_said_and_does_not_stop() {
    for torque_nm in [
        |t| 12.0 * (ramp(t, 4.0, 4.06) - ramp(t, 4.06, 4.1)) + clamp(t, SNUG),
        |t| 12.0 * (ramp(t, 1.0, 1.06) - ramp(t, 1.06, 1.1)) + clamp(t, SNUG),
    ] {
        let run = Run {
            torque_nm,
            ..Run::default()
        };
        let (found, turns) = run.only();
        assert_eq!(found.kind, FindingKind::FalseSnug);
        assert!(turns < 4.2);
    }
}

#[test]
fn a_missing_washer_makes_snug_late_by_its_thickness_over_the_pitch() {
    // 2 mm under a pitch of 1.5 mm.
    let run = Run {
        torque_nm: |t| clamp(t, SNUG + 2.0 / 1.5),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::LateSnug);
    assert_eq!(found.likely, Some(Cause::MissingPart));
    assert!(turns > SNUG + 0.5 && turns < SNUG + 0.7, "{turns}");
}

#[test]
fn snug_that_is_barely_late_is_told_from_where_the_elastic_line_begins() {
    let soft = ExpectedRun {
        least_rate_nm_per_rad: TARGET_NM / 12.0,
        ..expected()
    };
    let run = Run {
        expected: soft,
        torque_nm: |t| clamp(t, SNUG + 0.56),
        ..Run::default()
    };
    let (found, _) = run.only();
    assert_eq!(found.kind, FindingKind::LateSnug);
    assert!((found.value - (SNUG + 0.56) * TAU).abs() < 0.035);
}

#[test]
fn a_thread_that_has_not_caught_is_told_by_the_advance_that_is_missing() {
    let run = Run {
        torque_nm: |_| -0.5,
        advance: |_| 0.0,
        ..Run::default()
    };
    let first = run.found()[0];
    assert_eq!(first.0.kind, FindingKind::NotStarted);
    assert!(first.1 > 1.2 && first.1 < 1.4, "{}", first.1);
}

#[test]
fn galling_grows_and_grows_and_stops_while_a_wrong_locking_feature_is_level() {
    // Beginning after two turns and a half: 0.6 of the target in a turn and a half.
    let galling = Run {
        torque_nm: |t| 0.6 * TARGET_NM * ((t - 2.5).max(0.0) / 1.5).powf(1.5),
        ..Run::default()
    };
    let (found, turns) = galling.only();
    assert_eq!(found.kind, FindingKind::Galling);
    assert!(turns < 3.5, "{turns}");

    let wrong = Run {
        torque_nm: |t| 6.0 * ramp(t, 2.0, 2.4) + clamp(t, SNUG),
        ..Run::default()
    };
    let (found, turns) = wrong.only();
    assert_eq!(found.kind, FindingKind::PrevailingHigh);
    assert_eq!(found.likely, Some(Cause::LockingFeature));
    assert!(turns < 3.5, "{turns}");
}

#[test]
fn a_locking_feature_that_is_missing_is_said_once_the_head_seats_and_not_before() {
    let run = Run {
        expected: locking(),
        ..Run::default()
    };
    let (found, turns) = run.only();
    assert_eq!(found.kind, FindingKind::PrevailingLow);
    assert!(turns > SNUG && (found.value - 1.0).abs() < 0.1);
}

#[test]
fn a_bolt_that_is_tight_already_is_told_in_its_first_degrees_unless_it_carries_a_torque() {
    let tight = Run {
        torque_nm: |t| 30.0 + clamp(t, 0.0),
        ..Run::default()
    };
    let (found, turns) = tight.only();
    assert_eq!(found.kind, FindingKind::AlreadyTight);
    assert!(turns < 1.0 / 120.0, "{turns}");

    let carries = Run {
        expected: ExpectedRun {
            carried_nm: Some(30.0),
            ..expected()
        },
        ..tight
    };
    assert_eq!(carries.kinds(), []);
}

#[test]
fn without_turns_stated_a_tight_bolt_is_told_from_one_that_was_put_in_by_hand() {
    let unstated = ExpectedRun {
        earliest_snug_rad: None,
        latest_snug_rad: None,
        ..expected()
    };
    let tight = Run {
        expected: unstated,
        torque_nm: |t| 33.0 + clamp(t, 0.0),
        ..Run::default()
    };
    assert!(tight.kinds().contains(&FindingKind::AlreadyTight));
    let by_hand = Run {
        torque_nm: |t| 10.0 + clamp(t, 0.0),
        ..tight
    };
    assert!(!by_hand.kinds().contains(&FindingKind::AlreadyTight));
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
