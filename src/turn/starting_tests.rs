//! Strokes of an arm that starts off: its inertia shows as torque before the bolt is reached.

use super::{Effort, JoinConfig, StrokeJoiner};

const TOOTH_DEG: f32 = 5.0;
const PLAY_DEG: f32 = 1.7;
const STROKE_DEG: f32 = 40.0;
/// What a stroke turns the bolt by: all but the teeth that the way back was short of, and the play.
const GAIN_DEG: f32 = 35.0;

/// Plays `strokes` strokes of a ratchet on a bolt that takes `bolt_nm`, each beginning with a torque
/// of `start_nm` while the tool turns its first tenths of a degree; bolt angle at the end, degrees.
fn strokes(strokes: usize, bolt_nm: f32, start_nm: f32) -> f32 {
    let mut joiner = StrokeJoiner::new(&JoinConfig {
        windup_nm_per_rad: Some(3000.0),
        tooth_rad: Some(TOOTH_DEG.to_radians()),
        play_rad: Some(PLAY_DEG.to_radians()),
        seat_rad: core::f32::consts::FRAC_PI_6,
        reseats: true,
        gives_way: false,
    });
    let mut noise = [0.08, -0.05, 0.02, -0.06, 0.05, -0.04].iter().cycle();
    let mut bolt_rad = 0.0;
    let mut feed = |tool_deg: f32, torque_nm: f32| {
        let effort = Effort {
            torque_nm: torque_nm + noise.next().copied().unwrap_or(0.0),
            noise_nm: 0.06,
            systematic_u_nm: 0.02,
        };
        bolt_rad = joiner.update(tool_deg.to_radians(), &effort).bolt_rad;
    };
    for _ in 0..strokes {
        // Starts off as an arm does: t² for 0.1 s, then steadily.
        for i in 0..1100 {
            let t = i as f32 * 1e-3;
            let travel = if t < 0.1 {
                200.0 * t * t
            } else {
                2.0 + 40.0 * (t - 0.1)
            };
            let tool_deg = travel.min(STROKE_DEG);
            let torque = if t < 0.03 {
                start_nm
            } else if travel >= STROKE_DEG - GAIN_DEG {
                bolt_nm
            } else {
                0.0
            };
            feed(tool_deg, torque);
        }
        for i in 0..800 {
            feed(STROKE_DEG * (1.0 - i as f32 / 800.0), -0.03);
        }
    }
    bolt_rad.to_degrees()
}

/// Whether the level is lost in the noise or stands out of it: the start adds nothing. Without one the
/// same strokes give the same angle, within what the first stroke leaves open.
#[test]
fn a_start_is_not_taken_for_the_bolt() {
    for bolt_nm in [0.15, 1.0] {
        let calm = strokes(10, bolt_nm, 0.0);
        let brisk = strokes(10, bolt_nm, 1.2);
        assert!(
            (calm - 10.0 * GAIN_DEG).abs() < 6.0,
            "{bolt_nm} N·m: {calm}"
        );
        assert!(
            (brisk - 10.0 * GAIN_DEG).abs() < 6.0,
            "{bolt_nm} N·m: {brisk}"
        );
    }
}

/// A spindle whose angle is read in quarter degrees stands, the joint relaxes and the torque is let
/// off, while the arm that gave way to it springs forward: no turn.
#[test]
fn a_torque_that_is_let_off_turns_nothing() {
    let mut joiner = StrokeJoiner::new(&JoinConfig {
        windup_nm_per_rad: Some(1000.0),
        tooth_rad: None,
        play_rad: None,
        seat_rad: core::f32::consts::FRAC_PI_6,
        reseats: false,
        gives_way: false,
    });
    let mut bolt_rad = 0.0;
    let mut feed = |tool_deg: f32, torque_nm: f32| {
        let effort = Effort {
            torque_nm,
            noise_nm: 0.05,
            systematic_u_nm: 0.1,
        };
        bolt_rad = joiner.update(tool_deg.to_radians(), &effort).bolt_rad;
        bolt_rad.to_degrees()
    };
    let mut driven_deg = 0.0;
    for i in 0..1000 {
        let tool_deg = 0.06 * i as f32;
        driven_deg = feed(tool_deg, 0.5 * tool_deg);
    }
    let mut after_deg = driven_deg;
    for i in 0..400 {
        // 30 N·m fall to nothing over 0.4 s while the tool seems to go on by 0.2°.
        let part = i as f32 / 400.0;
        after_deg = feed(59.94 + 0.2 * part, 30.0 * (1.0 - part));
    }
    assert!((driven_deg - 58.2).abs() < 0.2, "{driven_deg}");
    assert!(after_deg - driven_deg < 0.03, "{}", after_deg - driven_deg);
}
