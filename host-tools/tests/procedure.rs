//! Goals and passes: the example is read as it says, every goal has its keys, mistakes are told at
//! once, and the blob is what the controller takes.

use std::f32::consts::PI;
use std::path::Path;

use bolting_host::description::{Description, DescriptionError};
use bolting_monitor::fastener::Band;
use bolting_monitor::procedure::{Direction, Expected, Goal, Order, Procedure, Turn};
use bolting_monitor::wire::Plan;

const FLANGE: &str = include_str!("../../examples/flange.toml");

fn read(text: &str) -> Result<Description, DescriptionError> {
    Description::parse(text, Path::new("flange.toml"))
}

/// A spindle description with these keys of `[run]`, then these tables.
fn run(keys: &str, tables: &str) -> String {
    format!(
        "schema = 1\nname = \"x\"\n[bolt]\nthread = \"M10\"\n[run]\nmode = \"powered_spindle\"\n{keys}\n{tables}"
    )
}

fn goal(keys: &str) -> Goal {
    read(&run(keys, "")).unwrap().job.goal
}

fn mistakes(text: &str) -> Vec<(String, usize, String)> {
    match read(text) {
        Err(DescriptionError::Mistakes { mistakes, .. }) => mistakes
            .into_iter()
            .map(|m| (m.key, m.line, m.problem))
            .collect(),
        other => panic!("mistakes expected, not {other:?}"),
    }
}

#[test]
fn the_example_makes_its_passes() {
    let procedure = read(FLANGE).unwrap().procedure;
    assert_eq!((procedure.bolts, procedure.passes.len()), (8, 5));
    let torque = |target_nm: f32, tolerance| Goal::Torque {
        target_nm,
        tolerance,
    };
    let goals: Vec<_> = (0..5).map(|i| procedure.goal(i).unwrap()).collect();
    assert_eq!(
        goals[0],
        Goal::Loosen {
            recorded_nm: Some(48.0),
            breakaway_nm: Some(Band {
                min: 24.0,
                max: 55.0
            }),
            run_out_rad: Some(Expected {
                value: 12.0 * PI,
                tolerance: (0.6 * std::f64::consts::TAU) as f32
            }),
        }
    );
    assert_eq!(goals[3], torque(48.0, 0.1));
    assert_eq!(
        goals[4],
        Goal::Recheck {
            torque_nm: 48.0,
            most_rad: 3f32.to_radians()
        }
    );
    for (goal, part, tolerance) in [(goals[1], 0.3, 0.15), (goals[2], 0.6, 0.1)] {
        let Goal::Torque {
            target_nm,
            tolerance: found,
        } = goal
        else {
            panic!("{goal:?}");
        };
        assert!((target_nm - 48.0 * part).abs() < 1e-4 && (found - tolerance).abs() < 1e-6);
    }
    let first: Vec<_> = procedure.turns().take(8).map(|t| t.bolt + 1).collect();
    assert_eq!(first, [1, 5, 3, 7, 2, 6, 4, 8]);
    assert_eq!(procedure.passes[4].order, Order::Round);
    // After the loosening the bolts are loose again.
    assert_eq!(procedure.carried_nm(1, Some(48.0)), None);
    assert_eq!(procedure.carried_nm(4, None), Some(48.0));
}

#[test]
fn each_goal_has_its_keys() {
    assert_eq!(goal(""), Goal::Watch(Direction::Tighten));
    assert_eq!(
        goal("target_torque_nm = 48"),
        Goal::Torque {
            target_nm: 48.0,
            tolerance: 0.1
        }
    );
    assert_eq!(
        goal(
            "goal = \"torque_then_angle\"\nstart_torque_nm = 36\nfurther_angle_deg = 60\nend_torque_nm = { min = 45, max = 75 }"
        ),
        Goal::TorqueThenAngle {
            start_nm: 36.0,
            angle_rad: Expected {
                value: PI / 3.0,
                tolerance: 10f64.to_radians() as f32
            },
            end_nm: Band {
                min: 45.0,
                max: 75.0
            },
        }
    );
    assert_eq!(
        goal("goal = \"yield\"\nend_torque_nm = { min = 55, max = 80 }"),
        Goal::Yield {
            slope_part: 0.5,
            onset_nm: Band {
                min: 55.0,
                max: 80.0
            },
        }
    );
    assert_eq!(
        goal("goal = \"recheck\"\ntarget_torque_nm = 48\nmost_angle_deg = 90"),
        Goal::Recheck {
            torque_nm: 48.0,
            most_rad: PI / 2.0
        }
    );
    assert_eq!(
        goal("direction = \"undo\"\ntarget_torque_nm = 48"),
        Goal::Loosen {
            recorded_nm: Some(48.0),
            breakaway_nm: None,
            run_out_rad: None
        },
        "an undone bolt's target is what it was done up with"
    );
    assert_eq!(
        goal("direction = \"undo\"\ngoal = \"watch\""),
        Goal::Watch(Direction::Undo)
    );
}

#[test]
fn percents_make_crosswise_passes_and_a_closing_round() {
    let procedure = read(&run(
        "target_torque_nm = 100",
        "[group]\nbolts = 4\ncross_order = [2, 4, 1, 3]\npasses_percent = [25, 100]\nclosing_round = true",
    ))
    .unwrap()
    .procedure;
    let turns: Vec<_> = procedure
        .turns()
        .map(|t| (t.pass + 1, t.bolt + 1))
        .collect();
    assert_eq!(
        turns,
        [
            (1, 2),
            (1, 4),
            (1, 1),
            (1, 3),
            (2, 2),
            (2, 4),
            (2, 1),
            (2, 3),
            (3, 1),
            (3, 2),
            (3, 3),
            (3, 4)
        ]
    );
    let targets: Vec<_> = (0..3)
        .map(|i| procedure.goal(i).unwrap().target_nm().unwrap())
        .collect();
    assert_eq!(targets, [25.0, 100.0, 100.0]);
}

#[test]
fn all_mistakes_of_goal_and_passes_are_told_with_their_lines() {
    let found = mistakes(&run(
        "target_torque_nm = 48\nmost_angle_deg = 3\nend_torque_nm = { min = 9, max = 2 }",
        "[group]\nbolts = 70\n[[pass]]\npercent = 120\n[[pass]]\ngoal = \"torque_then_angle\"\n[[pass]]\ngoal = \"recheck\"\npercent = 30",
    ));
    let told: Vec<_> = found
        .iter()
        .map(|(key, line, _)| (key.as_str(), *line))
        .collect();
    assert_eq!(
        told,
        [
            ("run.most_angle_deg", 8),
            ("run.end_torque_nm", 9),
            ("group.bolts", 11),
            ("pass.percent", 13),
            ("pass.start_torque_nm", 15),
            ("pass.further_angle_deg", 15),
            ("pass.end_torque_nm", 15),
            ("pass.percent", 18),
        ],
        "{found:?}"
    );
}

#[test]
fn a_pass_above_the_target_or_below_the_one_before_is_refused() {
    for (percents, told) in [
        ("[50, 101]", "at most 100"),
        ("[60, 30]", "rising order"),
        ("[0, 100]", "more than 0"),
    ] {
        let found = mistakes(&run(
            "target_torque_nm = 48",
            &format!("[group]\nbolts = 4\npasses_percent = {percents}"),
        ));
        assert_eq!(found.len(), 1, "{found:?}");
        let (key, line, problem) = &found[0];
        assert_eq!((key.as_str(), *line), ("group.passes_percent", 10));
        assert!(problem.contains(told), "{problem}");
    }
    let found = mistakes(&run(
        "target_torque_nm = 48",
        "[group]\nbolts = 4\npasses_percent = [50]\n[[pass]]\npercent = 100",
    ));
    assert!(found[0].2.contains("keep one"), "{found:?}");
    let found = mistakes(&run(
        "target_torque_nm = 48\ndirection = \"undo\"\ngoal = \"torque\"",
        "",
    ));
    assert!(found[0].2.contains("contradicts"), "{found:?}");
}

#[test]
fn the_blob_is_what_the_controller_takes() {
    let description = read(FLANGE).unwrap();
    let plan = Plan::from_blob(&description.plan().unwrap()).unwrap();
    assert_eq!(plan.job, description.job);
    assert_eq!(plan.procedure, description.procedure);
    let turn = Turn { pass: 1, bolt: 7 };
    let alone = description.of_turn(turn).unwrap();
    assert_eq!(
        Some(&alone.job),
        plan.procedure.job(&plan.job, turn).as_ref()
    );
    assert_eq!(alone.procedure, Procedure::single(alone.job.goal));
    assert!(description.of_turn(Turn { pass: 1, bolt: 8 }).is_none());
}
