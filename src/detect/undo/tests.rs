//! Each detector on synthetic runs of an invented M10 bolt, tightened to 48 N·m; the sound run first.

extern crate std;
use std::vec::Vec;

use super::*;
use crate::curve::{AngleStep, Level, Window};
use crate::detect::{FindingKind, Quantity};
use crate::wrench::AxialTorque;

pub(super) const EXPECTED: ExpectedRun = ExpectedRun {
    ceiling_nm: 10.5,
    pitch_m: 1.5e-3,
    ..ExpectedRun::UNKNOWN
};

pub(super) const KNOWN: UndoExpected = UndoExpected {
    recorded_nm: Some(48.0),
    breakaway_max_nm: None,
    free_rad: None,
    quickest_rad: None,
    least_drag_nm: 0.0,
};

/// Four turns of torque (N·m over degrees), what the arm tells of the advance, width of a step in
/// degrees; the findings with their angle in degrees.
pub(super) struct Run {
    pub expected: ExpectedRun,
    pub known: UndoExpected,
    pub step_deg: f32,
    pub torque_nm: fn(f32) -> f32,
    /// Way out in turns of thread; `None`: no arm.
    pub out_turns: fn(f32) -> Option<f32>,
}

impl Default for Run {
    fn default() -> Self {
        Self {
            expected: EXPECTED,
            known: KNOWN,
            step_deg: 0.5,
            torque_nm: sound,
            out_turns: |_| None,
        }
    }
}

impl Run {
    pub fn found(&self) -> Vec<(Detection, f32)> {
        let mut undoing = Undoing::new(&self.known);
        let (mut window, level) = (Window::default(), Level::default());
        let count = (4.0 * 360.0 / self.step_deg) as usize;
        (1..=count)
            .filter_map(|i| {
                let at_deg = i as f32 * self.step_deg;
                let step = AngleStep {
                    angle_rad: (at_deg - 0.5 * self.step_deg).to_radians(),
                    end_rad: at_deg.to_radians(),
                    width_rad: self.step_deg.to_radians(),
                    torque_nm: (self.torque_nm)(at_deg) + if i % 2 == 0 { 0.05 } else { -0.05 },
                    noise_nm: 0.05,
                    systematic_u_nm: 0.05,
                    observable: true,
                    advance_m: (self.out_turns)(at_deg).map(|turns| EXPECTED.pitch_m * turns),
                    since_stop_rad: at_deg.to_radians(),
                    ..AngleStep::default()
                };
                window.push(step);
                undoing
                    .on_step(&StepView {
                        step: &step,
                        window: &window,
                        local: None,
                        expected: &self.expected,
                        level: &level,
                        snug: false,
                        advance_ratio: None,
                        angle_u_rad: 0.0,
                    })
                    .map(|detection| (detection, at_deg))
            })
            .collect()
    }

    pub fn kinds(&self) -> Vec<FindingKind> {
        self.found().iter().map(|(d, _)| d.kind).collect()
    }
}

/// Rises over 15°, breaks loose at 34 N·m, falls over 30° to the 0.6 N·m of a free thread.
pub(super) fn sound(deg: f32) -> f32 {
    match deg {
        ..15.0 => 34.0 * deg / 15.0,
        15.0..45.0 => 34.0 - 33.4 * (deg - 15.0) / 30.0,
        _ => 0.6,
    }
}

/// Grips every 60° over a worn hexagon, each a little different.
fn slipping(deg: f32) -> f32 {
    let high = [9.0, 7.0, 11.0, 8.0, 10.0, 6.0][(deg / 60.0) as usize % 6];
    high * (3.0 * deg).to_radians().sin().abs()
}

pub(super) fn comes_out(deg: f32) -> Option<f32> {
    Some(deg / 360.0)
}

pub(super) fn stands(_: f32) -> Option<f32> {
    Some(0.0)
}

#[test]
fn a_sound_undoing_says_only_that_and_how_hard_the_bolt_broke_loose() {
    for step_deg in [0.5, 5.3] {
        let run = Run {
            step_deg,
            ..Run::default()
        };
        let found = run.found();
        assert_eq!(run.kinds(), [FindingKind::Breakaway]);
        let (breakaway, at_deg) = found[0];
        assert_eq!(breakaway.quantity, Quantity::TorqueRatio);
        assert!(
            (breakaway.value - 34.0 / 48.0).abs() < 0.05,
            "{breakaway:?}"
        );
        assert!(at_deg < 200.0, "{at_deg}");
    }
}

#[test]
fn a_soft_joint_and_a_locking_thread_are_no_stripped_drive() {
    // Preload leaves over a full turn (soft end of ISO 5393).
    let soft = |deg: f32| (34.0 * (1.0 - deg / 360.0)).max(0.6);
    // A locking nut at the ISO 2320 maximum, with a grain of ±20 % over 70°.
    let locking =
        |deg: f32| sound(deg).max(10.5 * (1.0 + 0.2 * (deg * 360.0 / 70.0).to_radians().sin()));
    for torque_nm in [soft as fn(f32) -> f32, locking] {
        let kinds = Run {
            torque_nm,
            ..Run::default()
        }
        .kinds();
        assert_eq!(kinds, [FindingKind::Breakaway]);
    }
}

#[test]
fn one_slip_before_the_breakaway_is_no_stripped_drive_and_two_are() {
    let once = |deg: f32| {
        if deg < 60.0 {
            sound(2.0 * deg) * 0.8
        } else {
            sound(deg - 60.0)
        }
    };
    let kinds = Run {
        torque_nm: once,
        ..Run::default()
    }
    .kinds();
    assert_eq!(kinds, [FindingKind::Breakaway]);
    let found = Run {
        torque_nm: slipping,
        ..Run::default()
    }
    .found();
    assert_eq!(
        found.first().map(|(d, _)| d.kind),
        Some(FindingKind::DriveStripped)
    );
    // The third grip ends at 180°.
    assert!(found[0].1 <= 180.0, "{found:?}");
}

#[test]
fn a_drive_too_worn_for_clear_grips_is_found_within_a_turn() {
    let ragged = |deg: f32| 1.5 + 0.25 * (deg * 4.0).to_radians().sin();
    let found = Run {
        torque_nm: ragged,
        ..Run::default()
    }
    .found();
    assert_eq!(
        found.first().map(|(d, _)| d.kind),
        Some(FindingKind::DriveStripped)
    );
    assert!(found[0].1 < 360.0, "{found:?}");
}

#[test]
fn a_bolt_that_comes_out_is_turned_by_its_drive_however_rough() {
    let late = |deg: f32| if deg < 455.0 { 9.0 } else { slipping(deg) };
    let stripped = |out_turns| {
        Run {
            torque_nm: late,
            out_turns,
            ..Run::default()
        }
        .kinds()
        .contains(&FindingKind::DriveStripped)
    };
    assert!(!stripped(comes_out as fn(f32) -> Option<f32>));
    assert!(stripped(|_| None));
}

#[test]
fn a_loose_thread_that_takes_more_and_more_torque_galls() {
    let galling = |deg: f32| sound(deg) + (0.05 * (deg - 300.0)).max(0.0);
    let found = Run {
        torque_nm: galling,
        out_turns: comes_out,
        ..Run::default()
    }
    .found();
    let kinds: Vec<_> = found.iter().map(|(d, _)| d.kind).collect();
    assert_eq!(kinds, [FindingKind::Breakaway, FindingKind::Galling]);
    // Half of the breakaway torque is reached at 628°.
    assert!((620.0..680.0).contains(&found[1].1), "{found:?}");
}

#[test]
fn the_thread_is_free_where_the_bolt_stops_coming_out_or_its_turns_are_done() {
    let seen = Run {
        out_turns: |deg| Some(deg.min(720.0) / 360.0),
        ..Run::default()
    };
    let stated = Run {
        known: UndoExpected {
            free_rad: Some(2.0 * TAU),
            ..KNOWN
        },
        ..Run::default()
    };
    for (run, at_deg) in [(seen, 1170.0), (stated, 720.0)] {
        // A free thread of no drag: 0.6 N·m are within the part that counts as gone.
        let found = run.found();
        let kinds: Vec<_> = found.iter().map(|(d, _)| d.kind).collect();
        assert_eq!(kinds, [FindingKind::Breakaway, FindingKind::ThreadFree]);
        assert!((found[1].1 - at_deg).abs() < 10.0, "{found:?}");
    }
}

#[test]
fn torque_at_the_recorded_one_without_motion_is_a_seized_bolt() {
    let said = |torque_nm: f32, known: &UndoExpected, step_every: usize| {
        let mut undoing = Undoing::new(known);
        (0..1000).find(|i| {
            if i % step_every == step_every - 1 {
                undoing.seized.moved();
            }
            undoing
                .on_sample(&SampleView {
                    dt_s: 0.001,
                    torque: &AxialTorque {
                        value_nm: torque_nm,
                        noise_nm: 0.05,
                        systematic_u_nm: 0.05,
                        observable: true,
                        residual_ratio: 0.0,
                    },
                    expected: &EXPECTED,
                    turning: false,
                    bolt_rad: 0.0,
                    tool_rad: 0.0,
                    paused: false,
                    joints: &[],
                    free_motion: false,
                    side: None,
                    tool_axis: &[0.0, 0.0, 1.0],
                    stale_after_s: 0.1,
                })
                .is_some_and(|d| d.kind == FindingKind::Seized)
        })
    };
    assert!(said(50.0, &KNOWN, 2000).is_some_and(|i| (19..=20).contains(&i)));
    assert_eq!(said(45.0, &KNOWN, 2000), None);
    assert_eq!(said(50.0, &KNOWN, 15), None);
    assert_eq!(said(50.0, &UndoExpected::default(), 2000), None);
    // Only a window is stated, or one above the record: what surely lies above it.
    let window = |recorded_nm| UndoExpected {
        recorded_nm,
        breakaway_max_nm: Some(52.0),
        ..KNOWN
    };
    for known in [window(None), window(Some(48.0))] {
        assert_eq!(said(52.05, &known, 2000), None);
        assert!(said(52.5, &known, 2000).is_some_and(|i| (19..=20).contains(&i)));
    }
}

#[test]
fn no_figure_however_absurd_makes_a_finding_out_of_nothing() {
    for torque_nm in [|_| f32::NAN, |_| 0.0, |_| -40.0] as [fn(f32) -> f32; 3] {
        let kinds = Run {
            torque_nm,
            ..Run::default()
        }
        .kinds();
        assert_eq!(kinds, []);
    }
}
