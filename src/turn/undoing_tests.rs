//! Strokes of a bolt whose torque falls from one to the next, as one that is undone.

use super::{Effort, JoinConfig, StrokeJoiner};

/// Turns by two strokes of 150° with a return between them, which meet these torques. Bolt angle at
/// the end, degrees.
fn two_strokes([first_nm, second_nm]: [f32; 2], gives_way: bool) -> f32 {
    let mut joiner = StrokeJoiner::new(&JoinConfig {
        windup_nm_per_rad: Some(3000.0),
        tooth_rad: None,
        seat_rad: core::f32::consts::FRAC_PI_3,
        play_rad: Some(0.02),
        reseats: true,
        gives_way,
    });
    let mut bolt_rad = 0.0;
    let mut turn = |from_deg: i16, to_deg: i16, torque_nm: f32| {
        let step: i16 = if to_deg > from_deg { 1 } else { -1 };
        let mut tenths = from_deg * 10;
        while tenths != to_deg * 10 {
            tenths += step;
            let effort = Effort {
                torque_nm,
                noise_nm: 0.05,
                systematic_u_nm: 0.2,
            };
            let motion = joiner.update((f32::from(tenths) / 10.0).to_radians(), &effort);
            bolt_rad = motion.bolt_rad;
        }
    };
    turn(0, 150, first_nm);
    turn(150, 0, 0.0);
    turn(0, 150, second_nm);
    bolt_rad.to_degrees()
}

#[test]
fn a_stroke_that_meets_less_torque_than_the_one_before_counts() {
    // 5 N·m: resisting, but far below the 20 N·m of the stroke before.
    let bolt_deg = two_strokes([20.0, 5.0], true);
    assert!((bolt_deg - 300.0).abs() < 20.0, "{bolt_deg}");
}

#[test]
fn a_stroke_without_torque_counts_only_where_the_bolt_may_give_way() {
    let bolt_deg = two_strokes([20.0, 0.0], true);
    assert!((bolt_deg - 300.0).abs() < 40.0, "{bolt_deg}");
    let bolt_deg = two_strokes([20.0, 0.0], false);
    assert!((bolt_deg - 150.0).abs() < 5.0, "{bolt_deg}");
}

#[test]
fn a_stroke_within_the_uncertainty_counts_without_waiting_for_the_angle_of_the_one_before() {
    let bolt_deg = two_strokes([0.9, 0.2], true);
    assert!((bolt_deg - 300.0).abs() < 40.0, "{bolt_deg}");
}
