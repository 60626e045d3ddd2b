//! The campaign.

use clap::ValueEnum;

use super::*;

#[test]
fn same_scenario_gives_the_same_run() {
    for index in [0, 5] {
        let s = campaign(3, index);
        assert_eq!(s, campaign(3, index));
        assert_eq!(simulate(&s), simulate(&s));
        let other = Scenario {
            seed: s.seed ^ 1,
            ..s.clone()
        };
        assert_ne!(simulate(&s).rows, simulate(&other).rows);
    }
}

#[test]
fn campaign_is_half_without_fault_and_every_fault_comes_alike() {
    let kinds = FaultKind::value_variants();
    let mut seen = vec![0; kinds.len()];
    let rounds = 2 * (kinds.len() - 1);
    for index in 0..2 * rounds {
        let s = campaign(5, index);
        let kind = s.fault.kind();
        assert_eq!(kind == FaultKind::None, index % 2 == 0);
        let undo = s.direction == Direction::Undo;
        let fits = if undo {
            kind.undoing()
        } else {
            kind.tightening()
        };
        assert!(fits, "{s:?}");
        seen[kinds.iter().position(|k| *k == kind).unwrap()] += 1;
    }
    assert_eq!(seen[0], rounds);
    assert!(seen[1..].iter().all(|n| *n == 2), "{seen:?}");
}

#[test]
fn runs_of_every_kind_begin_and_end_as_they_should() {
    let kinds = FaultKind::value_variants().len() - 1;
    for index in 0..2 * kinds {
        let s = campaign(9, index);
        let run = simulate(&s);
        let (t, what) = (&run.truth, &run.truth.cause);
        let begun = t.onset_time_s.is_some();
        assert_eq!(begun, index % 2 == 1, "run {index}, {what}");
        assert!(t.stop_time_s > 0.0, "run {index}, {what} was never stopped");
        assert_eq!(run.rows.len(), t.bolt_torque_nm.len());
        let figures = |r: &Row| r.tau.into_iter().chain(r.q).chain(r.dq);
        assert!(run.rows.iter().flat_map(figures).all(f64::is_finite));
        // Against the run a socket pushes the bolt by the drag of a ratchet at most.
        let sense = if t.undone { -1.0 } else { 1.0 };
        let torques = t.bolt_torque_nm.iter().map(|x| sense * x);
        let worst = torques.fold(0.0, f64::min);
        assert!(worst > -1.0, "run {index}, {what}: {worst} N·m");
        let plain = t.fault == "none" && !t.undone;
        let part = t.final_torque_nm / s.bolt.target_nm;
        assert!(
            !plain || (part - 1.0).abs() < 0.1,
            "run {index} ends at {part}"
        );
    }
}

#[test]
fn knobs_turn_what_they_say_and_nothing_else() {
    let plain = campaign(2, 6);
    let knobs = Knobs {
        noise_factor: 4.0,
        ..Knobs::default()
    };
    let noisy = campaign_with(2, 6, &knobs);
    assert!((noisy.arm.torque_noise_nm[0] / plain.arm.torque_noise_nm[0] - 4.0).abs() < 1e-12);
    assert_eq!((&noisy.bolt, &noisy.fault), (&plain.bolt, &plain.fault));
    let knobs = Knobs {
        rate_hz: Some(250.0),
        dropped_part: 0.1,
        ..Knobs::default()
    };
    let mut s = campaign_with(2, 6, &knobs);
    s.sampling.gaps_per_s = 0.0;
    let run = simulate(&s);
    let kept = run.rows.len() as f64 / (250.0 * run.rows.last().unwrap().time_s);
    // A thousand samples and more: the standard error is below 1 %.
    assert!((kept - 0.9).abs() < 0.03, "{kept}");
}
