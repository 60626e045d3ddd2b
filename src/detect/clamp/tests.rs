//! What gives way, on synthetic runs; the sound ones first.

extern crate std;
use std::vec::Vec;

use super::super::bench::{
    EXPECTED, SNUG_DEG, Touch, Turn, kinds, sound, touch, touch_at, turn, turn_expecting,
};
use super::*;
use crate::fastener::{Band, ExpectedRun};

/// Rises from 0 to 1 without a corner.
fn smooth(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// A surface that wanders over some degrees, about 1 sigma of 1.
fn wander(deg: f32) -> f32 {
    (deg / 1.3).sin() + 0.7 * (deg / 2.9 + 1.0).sin()
}

/// Sound up to `onset_deg`, then with a part of the slope.
fn yielding(deg: f32, onset_deg: f32, part: f32) -> f32 {
    sound(deg.min(onset_deg)) + part * (deg - onset_deg).max(0.0)
}

fn found(until_deg: f32, torque_nm: impl Fn(f32) -> f32) -> Vec<(Detection, f32)> {
    turn(&mut GivingWay::default(), until_deg, |deg| {
        Turn::steady(torque_nm(deg))
    })
}

#[test]
fn a_sound_bolt_gives_nothing_away() {
    assert_eq!(found(408.0, sound), []);
    // Rough, and six times as soft.
    let soft = |deg: f32| 0.8 + (deg - SNUG_DEG).max(0.0) / 6.0;
    let rough = |deg: f32| soft(deg) * (1.0 + 0.02 * wander(deg));
    assert_eq!(found(648.0, rough), []);
    // A surface that wanders in the rundown as much goes on in the rise.
    let sticky = |deg: f32| 8.0 * (1.0 + 0.08 * (deg / 10.0).sin()) + soft(deg);
    assert_eq!(found(600.0, sticky), []);
}

#[test]
fn a_joint_that_softens_is_no_yield_and_one_that_gives_is() {
    assert_eq!(found(420.0, |deg| yielding(deg, 385.0, 0.65)), []);
    let early = found(420.0, |deg| yielding(deg, 390.0, 0.25));
    assert_eq!(kinds(&early), [FindingKind::EarlyYield]);
    let (detection, at_deg) = early[0];
    assert!((395.0..408.0).contains(&at_deg), "{at_deg}");
    assert_eq!(detection.likely, Some(Cause::YieldingBolt));
    assert_eq!(detection.runner_up, Some(Cause::StrippingThread));
    let wanted = found(440.0, |deg| yielding(deg, 407.0, 0.1));
    assert_eq!(kinds(&wanted), [FindingKind::YieldOnset]);
}

#[test]
fn yield_is_told_after_a_stop_by_the_slope_before_it() {
    // Yields at 388°, two degrees after a stop.
    let restart = |deg: f32, part: f32| Turn {
        since_stop_deg: if deg < 386.0 { 90.0 } else { deg - 386.0 },
        ..Turn::steady(yielding(deg, 388.0, part))
    };
    let said = turn(&mut GivingWay::default(), 420.0, |deg| restart(deg, 0.15));
    assert_eq!(kinds(&said), [FindingKind::EarlyYield]);
    // A joint that is a little softer after it does not.
    let said = turn(&mut GivingWay::default(), 410.0, |deg| restart(deg, 0.6));
    assert_eq!(said, []);
}

#[test]
fn yield_began_where_the_curve_left_the_elastic_line() {
    let mut detector = GivingWay::default();
    turn(&mut detector, 430.0, |deg| {
        Turn::steady(yielding(deg, 406.0, 0.1))
    });
    let onset_nm = detector.yield_onset_nm().expect("has yielded");
    // One degree of offset at 1 N·m a degree, and what caution takes from the slope.
    assert!(
        (sound(405.5)..sound(409.0)).contains(&onset_nm),
        "{onset_nm}"
    );
}

#[test]
fn a_thread_that_strips_is_told_from_one_that_is_broken_loose_again() {
    let strips = |deg: f32| sound(deg.min(395.0)) * (1.0 - 0.65 * smooth((deg - 395.0) / 30.0));
    let said = found(460.0, strips);
    assert_eq!(kinds(&said), [FindingKind::Strip]);
    assert!((395.0..405.0).contains(&said[0].1), "{}", said[0].1);
    // After a stop at 395° the torque overshoots by a tenth and comes down again.
    let restart = |deg: f32| {
        let since_stop_deg = if deg < 395.0 { 90.0 } else { deg - 395.0 };
        let soft = 0.8 + (deg - SNUG_DEG).max(0.0) * 0.5;
        Turn {
            since_stop_deg,
            ..Turn::steady(soft * (1.0 + 0.1 * (-since_stop_deg / 1.7).exp()))
        }
    };
    assert_eq!(turn(&mut GivingWay::default(), 440.0, restart), []);
}

#[test]
fn a_fall_tells_more_once_the_curve_has_left_its_elastic_line() {
    // A rough surface, and a thread that gives way slowly, to two thirds over 50°: without its line it
    // is told at 408.5°.
    let rough = |deg: f32| 1.0 + 0.012 * (deg / 0.5).sin();
    let strips =
        |deg: f32| sound(deg.min(395.0)) * rough(deg) * (1.0 - 0.35 * smooth((deg - 395.0) / 50.0));
    let said = found(460.0, strips);
    assert_eq!(kinds(&said)[0], FindingKind::Strip, "{said:?}");
    assert!((395.0..407.0).contains(&said[0].1), "{said:?}");
    // As rough and sound, or level from 47 N·m on.
    assert_eq!(found(408.0, |deg| sound(deg) * rough(deg)), []);
    let level = found(425.0, |deg| sound(deg.min(406.0)) * rough(deg));
    assert!(!kinds(&level).contains(&FindingKind::Strip), "{level:?}");
}

#[test]
fn a_joint_that_stands_again_and_again_embeds_once() {
    // A slow hand stops every 9°, and the torque falls by two thirds over 60° meanwhile.
    let stops = |deg: f32, torque_nm: f32| Turn {
        since_stop_deg: if deg < 397.0 {
            90.0
        } else {
            (deg - 397.0) % 9.0
        },
        ..Turn::steady(torque_nm)
    };
    let strips = |deg: f32| sound(deg.min(395.0)) * (1.0 - 0.65 * smooth((deg - 395.0) / 60.0));
    let said = turn(&mut GivingWay::default(), 480.0, |deg| {
        stops(deg, strips(deg))
    });
    assert_eq!(kinds(&said), [FindingKind::Strip]);
    assert!((395.0..424.0).contains(&said[0].1), "{}", said[0].1);
    // One that embeds by a tenth where it first stands, and then climbs on, is sound.
    let embeds = |deg: f32| {
        if deg < 397.0 {
            sound(deg)
        } else {
            0.9 * sound(deg)
        }
    };
    let said = turn(&mut GivingWay::default(), 412.0, |deg| {
        stops(deg, embeds(deg))
    });
    assert_eq!(said, []);
}

#[test]
fn what_was_borne_tells_that_it_was_no_burr_whatever_a_stop_took_of_it() {
    // Up to 22 N·m, where a burr bears 17.6 at most: a stop at 379°, and from 381.5° on it falls.
    let strips = |deg: f32| Turn {
        since_stop_deg: if deg < 379.0 { 90.0 } else { deg - 379.0 },
        ..Turn::steady(sound(deg.min(381.5)) * (1.0 - 0.6 * smooth((deg - 381.5) / 12.0)))
    };
    let said = turn(&mut GivingWay::default(), 430.0, strips);
    assert_eq!(kinds(&said), [FindingKind::Strip]);
    assert!((381.5..392.0).contains(&said[0].1), "{}", said[0].1);
}

#[test]
fn a_yield_where_it_may_is_told_before_a_hard_joint_is_done() {
    // 15° to the target, as found by the hardest joints, and 45 N·m, above the least of 43.2, from 374° on.
    let expected = ExpectedRun {
        elastic_rad: Some(Band::new(0.2, 0.35)),
        ..EXPECTED
    };
    let hard = |deg: f32| {
        let line_nm = 0.8 + 3.2 * (deg - SNUG_DEG).max(0.0);
        line_nm.min(45.0 + 0.02 * (line_nm - 45.0))
    };
    let run = |until_deg, at: &dyn Fn(f32) -> f32| {
        let steady = |deg| Turn::steady(at(deg));
        let mut detector = GivingWay::default();
        kinds(&turn_expecting(
            &expected,
            &mut detector,
            until_deg,
            |_| 0.01,
            steady,
        ))
    };
    assert_eq!(run(389.0, &hard), [FindingKind::YieldOnset]);
    assert_eq!(run(377.0, &|deg| 0.8 + 3.2 * (deg - SNUG_DEG).max(0.0)), []);
}

#[test]
fn a_slope_that_may_be_that_of_a_yielding_bolt_leaves_the_verdict_open() {
    // A surface that wanders by a hundredth; from 39 N·m on with 0.55 of the slope, of which a half is yield.
    let rough = |deg: f32| 1.0 + 0.008 * wander(deg);
    let in_doubt = |part: f32| {
        let mut detector = GivingWay::default();
        let at = |deg: f32| Turn::steady(yielding(deg, 398.0, part) * rough(deg));
        assert_eq!(turn(&mut detector, 412.0, at), []);
        detector.yield_in_doubt()
    };
    assert!(in_doubt(0.55));
    assert!(!in_doubt(1.0));
}

/// A bolt whose angle is too large from the start.
struct TooFar(GivingWay);

impl Detector for TooFar {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let gives = self.0.on_step(view);
        gives.or_else(|| self.0.explain_angle(view))
    }
}

#[test]
fn an_angle_that_is_too_large_makes_a_yield_sure_sooner() {
    let rough = |deg: f32| 1.0 + 0.012 * wander(deg);
    let at = |deg: f32| Turn::steady(yielding(deg, 390.0, 0.35) * rough(deg));
    let alone = turn(&mut GivingWay::default(), 440.0, at);
    let explained = turn(&mut TooFar(GivingWay::default()), 440.0, at);
    assert_eq!(kinds(&explained), [FindingKind::EarlyYield]);
    assert_eq!(kinds(&alone), [FindingKind::EarlyYield]);
    assert!(explained[0].1 < alone[0].1, "{explained:?} {alone:?}");
    // A sound bolt is not explained away.
    let sound = turn(&mut TooFar(GivingWay::default()), 408.0, |deg| {
        Turn::steady(sound(deg) * rough(deg))
    });
    assert_eq!(sound, []);
}

#[test]
fn a_torque_that_drops_at_once_and_rises_on_is_no_strip() {
    // A soft joint whose friction falls by 15 % within half a degree, as where one that turned in jerks runs
    // smoothly.
    let soft = |deg: f32| 0.8 + (deg - SNUG_DEG).max(0.0) / 6.0;
    let drops = |deg: f32| soft(deg) * if deg < 500.0 { 1.0 } else { 0.85 };
    assert_eq!(found(540.0, drops), []);
    // A thread that loses as much at first, and goes on.
    let strips = |deg: f32| {
        let on = (0.85 - 0.0085 * (deg - 500.0)).max(0.4);
        soft(deg.min(500.0)) * if deg < 500.0 { 1.0 } else { on }
    };
    let said = found(530.0, strips);
    assert_eq!(kinds(&said), [FindingKind::Strip]);
    assert!((500.0..505.0).contains(&said[0].1), "{}", said[0].1);
}

#[test]
fn what_breaks_off_far_below_the_target_is_a_thread_that_left_little() {
    let falls = |deg: f32, onset_deg: f32| {
        sound(deg.min(onset_deg)) * (1.0 - 0.78 * smooth((deg - onset_deg) / 12.0))
    };
    // At 26 N·m of 48, and at 44.
    assert_eq!(
        kinds(&found(440.0, |deg| falls(deg, 385.0))),
        [FindingKind::Strip]
    );
    assert_eq!(
        kinds(&found(440.0, |deg| falls(deg, 403.0))),
        [FindingKind::Fracture]
    );
}

#[test]
fn a_bolt_that_breaks_has_yielded_or_loses_all_at_once() {
    let breaks = |deg: f32, drop_deg: f32| {
        yielding(deg, 406.0, 0.1) * (1.0 - 0.99 * smooth((deg - 430.0) / drop_deg))
    };
    for drop_deg in [5.0, 12.0, 18.0] {
        let said = found(480.0, |deg| breaks(deg, drop_deg));
        assert_eq!(
            kinds(&said),
            [FindingKind::YieldOnset, FindingKind::Fracture],
            "{drop_deg}"
        );
        assert!(said[1].1 < 436.0, "{drop_deg}: {}", said[1].1);
    }
    let brittle = |deg: f32| sound(deg.min(400.0)) * (1.0 - 0.99 * smooth((deg - 400.0) / 10.0));
    assert_eq!(kinds(&found(460.0, brittle)), [FindingKind::Fracture]);
}

#[test]
fn a_thread_that_leaves_nothing_was_a_bolt() {
    // Falls slowly at first, then is gone.
    let slow = |deg: f32| {
        let first = 0.3 * smooth((deg - 395.0) / 25.0);
        let then = 0.7 * smooth((deg - 412.0) / 15.0);
        sound(deg.min(395.0)) * (1.0 - first - then)
    };
    let said = found(460.0, slow);
    assert_eq!(kinds(&said), [FindingKind::Strip, FindingKind::Fracture]);
    assert!((427.0..440.0).contains(&said[1].1), "{}", said[1].1);
}

/// The tool drives at 20° a second to 30 N·m, 3,000 N·m/rad of wind-up on a standing bolt, then the
/// torque goes as told over `rest`.
fn grip(rest: impl Iterator<Item = (f32, f32)>) -> Vec<Touch> {
    let rise = (0..1500).map(|i| (0.02 * i as f32, 0.02 * i as f32, true));
    rise.chain(rest.map(|(travel_deg, torque_nm)| (30.0 + travel_deg, torque_nm, true)))
        .collect()
}

#[test]
fn a_socket_slips_when_the_tool_goes_on_without_torque() {
    let on = || (0..500).map(|i| 0.02 * i as f32);
    let slip = touch(&mut GivingWay::default(), grip(on().map(|a| (a, 1.0))));
    let (detection, sample) = slip.expect("slips");
    assert_eq!(detection.kind, FindingKind::SocketSlip);
    assert_eq!(detection.likely, Some(Cause::SlippingSocket));
    assert!(sample < 1600, "{sample}");
    // Let go where it stands, gone back, or falling over 10°, it does not slip.
    let still = grip(on().map(|_| (0.0, 0.0)));
    assert_eq!(touch(&mut GivingWay::default(), still), None);
    let back = grip(on().map(|a| (-a, 0.0)));
    assert_eq!(touch(&mut GivingWay::default(), back), None);
    let slow = grip(on().map(|a| (a, 30.0 - 3.0 * a)));
    assert_eq!(touch(&mut GivingWay::default(), slow), None);
}

#[test]
fn what_lets_go_before_snug_is_due_is_no_slip() {
    let slip = || grip((0..500).map(|i| (0.02 * i as f32, 1.0)));
    let due_rad = EXPECTED.earliest_snug_rad.expect("stated");
    let said = |bolt_rad| touch_at(bolt_rad, &mut GivingWay::default(), slip());
    assert_eq!(said(0.9 * due_rad), None);
    assert!(said(1.1 * due_rad).is_some());
}

#[test]
fn a_burr_that_is_turned_through_fast_is_no_slip() {
    // 0.36° a sample: clears over 5°, faster than a hand could tell.
    let clears = |held_nm: f32| {
        let rise = (0..200).map(move |i| (0.36 * i as f32, held_nm.min(0.1 * i as f32), true));
        let rest = (0..200).map(move |i| {
            let deg = 0.36 * i as f32;
            (
                72.0 + deg,
                1.0 + (held_nm - 1.0) * (1.0 - smooth(deg / 8.0)),
                true,
            )
        });
        touch(&mut GivingWay::default(), rise.chain(rest))
    };
    assert_eq!(clears(12.0), None);
}

#[test]
fn a_light_grip_that_is_lost_counts_once_the_head_has_seated() {
    let on = (0..500).map(|i| (0.02 * i as f32, 1.0));
    // Up to 12 of 48 N·m.
    let light = grip(on).into_iter();
    let light =
        light.map(|(travel_deg, torque_nm, turning)| (travel_deg, 0.4 * torque_nm, turning));
    let mut detector = GivingWay::default();
    assert_eq!(touch(&mut detector, light.clone()), None);
    let said = turn(&mut detector, 410.0, |deg| Turn::steady(sound(deg)));
    assert_eq!(kinds(&said), []);
    let (detection, _) = touch(&mut detector, light).expect("slips");
    assert_eq!(detection.kind, FindingKind::SocketSlip);
}

#[test]
fn what_lets_go_at_once_after_yield_is_the_bolt() {
    let mut detector = GivingWay::default();
    let said = turn(&mut detector, 430.0, |deg| {
        Turn::steady(yielding(deg, 406.0, 0.1))
    });
    assert_eq!(kinds(&said), [FindingKind::YieldOnset]);
    let on = (0..500).map(|i| (0.02 * i as f32, 1.0));
    // Up to 60 N·m: it yielded at some 50.
    let held = grip(on.clone()).into_iter();
    let held = held.map(|(travel_deg, torque_nm, turning)| (travel_deg, 2.0 * torque_nm, turning));
    let (detection, _) = touch(&mut detector.clone(), held).expect("lets go");
    assert_eq!(detection.kind, FindingKind::Fracture);
    assert_eq!(detection.runner_up, Some(Cause::SlippingSocket));
    // A bolt that has yielded carries what it yielded at until it breaks: 30 N·m is a socket.
    let (detection, _) = touch(&mut detector, grip(on)).expect("lets go");
    assert_eq!(detection.kind, FindingKind::SocketSlip);
}
