//! What a build refuses that lacks a part, and that it refuses nothing else. Holds in every build:
//! `cargo test --no-default-features --test parts`, and with each feature alone.

mod rig;

use bolting_monitor::fastener::PropertyClass;
use bolting_monitor::monitor::{Monitor, MonitorError};
use bolting_monitor::parts::Part;
use bolting_monitor::procedure::{BoltJob, Direction, Goal, Mode, Procedure};
use bolting_monitor::wire::{PLAN_VERSION, Plan, PlanError, crc32};

/// A bolt that is done up by a spindle without an arm.
fn spindle_job() -> BoltJob {
    BoltJob {
        mode: Mode::PoweredSpindle,
        ..rig::job(Direction::Tighten)
    }
}

/// The blob of a plan that nobody has checked, sealed as the host seals it.
fn unchecked_blob(plan: &Plan) -> Vec<u8> {
    let mut room = [0; 2048];
    let used = postcard::to_slice(plan, &mut room).expect("room").len();
    let mut blob = vec![PLAN_VERSION];
    blob.extend_from_slice(&room[..used]);
    blob.extend_from_slice(&crc32(&blob).to_le_bytes());
    blob
}

fn plan(job: BoltJob) -> Plan {
    Plan {
        procedure: Procedure::single(job.goal),
        job,
        arm: None,
    }
}

fn loosens() -> Goal {
    Goal::Loosen {
        recorded_nm: Some(48.0),
        breakaway_nm: None,
        run_out_rad: None,
    }
}

#[test]
fn a_spindle_that_tightens_is_taken_by_every_build() {
    let job = spindle_job();
    assert!(Monitor::<0>::check(&job, None).is_ok());
    assert!(Plan::from_blob(&unchecked_blob(&plan(job))).is_ok());
}

#[test]
fn an_arm_is_refused_by_name_where_it_is_left_out() {
    let job = rig::job(Direction::Tighten);
    let taken = Monitor::<{ rig::N }>::check(&job, Some(&rig::arm()));
    let with_arm = Plan {
        arm: Some(rig::arm()),
        ..plan(job)
    };
    let read = Plan::from_blob(&unchecked_blob(&with_arm));
    if cfg!(feature = "arm") {
        assert!(matches!(taken, Ok(Some(_))));
        assert_eq!(read, Ok(with_arm));
    } else {
        assert!(matches!(taken, Err(MonitorError::LeftOut(Part::Arm))));
        assert_eq!(read, Err(PlanError::LeftOut(Part::Arm)));
        assert!(
            PlanError::LeftOut(Part::Arm)
                .to_string()
                .contains("\"arm\"")
        );
    }
}

#[test]
fn undoing_is_refused_by_name_where_it_is_left_out() {
    for goal in [Goal::Watch(Direction::Undo), loosens()] {
        let job = BoltJob {
            goal,
            ..spindle_job()
        };
        let taken = Monitor::<0>::check(&job, None);
        let read = Plan::from_blob(&unchecked_blob(&plan(job)));
        if cfg!(feature = "undoing") {
            assert!(taken.is_ok() && read.is_ok(), "{goal:?}");
        } else {
            assert!(matches!(taken, Err(MonitorError::LeftOut(Part::Undoing))));
            assert_eq!(read, Err(PlanError::LeftOut(Part::Undoing)));
        }
    }
}

#[test]
fn undoing_is_found_in_a_later_pass_too() {
    let mut mixed = plan(spindle_job());
    mixed
        .procedure
        .passes
        .extend(Procedure::single(loosens()).passes);
    let read = Plan::from_blob(&unchecked_blob(&mixed));
    assert_eq!(
        matches!(read, Err(PlanError::LeftOut(Part::Undoing))),
        !cfg!(feature = "undoing")
    );
}

#[test]
fn a_target_that_breaks_the_bolt_is_the_hosts_to_refuse_where_the_check_is_left_out() {
    let mut job = spindle_job();
    job.fastener.bolt = Some(
        "8.8"
            .parse::<PropertyClass>()
            .expect("class")
            .material(10.0),
    );
    job.goal = Goal::Torque {
        target_nm: 480.0,
        tolerance: 0.1,
    };
    let read = Plan::from_blob(&unchecked_blob(&plan(job)));
    assert_eq!(
        matches!(read, Err(PlanError::Fastener(_))),
        cfg!(feature = "fastener-check")
    );
}

#[test]
fn a_figure_that_is_no_number_is_refused_by_every_build() {
    let mut job = spindle_job();
    job.fastener.thread.pitch_mm = f32::NAN;
    assert!(matches!(
        Monitor::<0>::check(&job, None),
        Err(MonitorError::Fastener(fault)) if fault.key == "thread.pitch_mm"
    ));
    assert!(matches!(
        Plan::from_blob(&unchecked_blob(&plan(job))),
        Err(PlanError::Fastener(_))
    ));
}

#[test]
fn a_damaged_blob_and_another_version_are_refused_by_every_build() {
    let good = unchecked_blob(&plan(spindle_job()));
    let mut torn = good.clone();
    torn[10] ^= 4;
    assert_eq!(Plan::from_blob(&torn), Err(PlanError::Damaged));
    let mut other = good;
    other[0] = PLAN_VERSION + 1;
    let body = other.len() - 4;
    let crc = crc32(&other[..body]).to_le_bytes();
    other[body..].copy_from_slice(&crc);
    assert_eq!(
        Plan::from_blob(&other),
        Err(PlanError::Version(PLAN_VERSION + 1))
    );
}
