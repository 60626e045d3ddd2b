//! The bytes of a plan are pinned to its version: where this test fails, the layout has changed, and
//! `PLAN_VERSION` must be raised and the golden file made anew (`WRITE_GOLDEN=1`).

mod rig;

use bolting_monitor::fastener::{
    Band, Clamp, Fastener, Friction, FrictionClass, Joint, Locking, Mating, PropertyClass, Thread,
};
use bolting_monitor::procedure::{AxisLine, Direction, Expected, Goal, Order, Pass, Procedure};
use bolting_monitor::wire::{PLAN_VERSION, Plan};

/// As many variants and figures as one plan can hold.
fn plan() -> Plan {
    let steel = "8.8"
        .parse::<PropertyClass>()
        .expect("a class")
        .material(10.0);
    let mut job = rig::job(Direction::Tighten);
    // The rig takes it from a pose, whose last digits belong to no version of the plan.
    job.bolt_axis = Some(AxisLine {
        point_m: [0.6602685, 0.0, -0.049999975],
        direction: [0.0, 0.0, -1.0],
    });
    job.fastener = Fastener {
        bolt: Some(steel),
        mating: Some(Mating {
            material: steel,
            engagement_mm: 12.0,
        }),
        friction: Some(Friction::from(FrictionClass::B)),
        bearing_mm: Some(13.0),
        joint: Some(Joint::Clamp(Clamp {
            length_mm: 30.0,
            shank_mm: 10.0,
            parts_gpa: 205.0,
            nut: true,
        })),
        locking: Some(Locking::Stated(Band::new(0.0, 2.0))),
        rundown_mm: Some(15.0),
        ..Fastener::new(Thread::metric(10.0, 1.5))
    };
    let window = Expected {
        value: 1.0,
        tolerance: 0.25,
    };
    let goals = [
        Goal::Loosen {
            recorded_nm: Some(30.0),
            breakaway_nm: Some(Band::new(15.0, 30.0)),
            run_out_rad: Some(window),
        },
        job.goal,
        Goal::TorqueThenAngle {
            start_nm: 30.0,
            angle_rad: window,
            end_nm: Band::new(32.0, 40.0),
        },
        Goal::Yield {
            slope_part: 0.5,
            onset_nm: Band::new(36.0, 60.0),
        },
        Goal::Recheck {
            torque_nm: 30.0,
            most_rad: 0.05,
        },
        Goal::Watch(Direction::Undo),
    ];
    Plan {
        procedure: Procedure {
            bolts: 4,
            cross: [3, 1, 0, 2].into_iter().collect(),
            passes: goals
                .into_iter()
                .map(|goal| Pass {
                    goal,
                    part: 1.0,
                    order: Order::Cross,
                })
                .collect(),
        },
        job,
        arm: Some(rig::arm()),
    }
}

#[test]
fn the_bytes_of_a_plan_are_pinned_to_its_version() {
    let mut blob = [0; 4096];
    let length = plan().to_blob(&mut blob).expect("a sound plan");
    let path = format!(
        "{}/tests/golden/plan-v{PLAN_VERSION}.bin",
        env!("CARGO_MANIFEST_DIR")
    );
    if std::env::var_os("WRITE_GOLDEN").is_some() {
        std::fs::write(&path, &blob[..length]).expect("write the golden file");
    }
    let golden = std::fs::read(&path).expect("the golden file is part of the repository");
    assert_eq!(Plan::from_blob(&golden), Ok(plan()));
    assert_eq!(golden, &blob[..length], "raise PLAN_VERSION");
}
