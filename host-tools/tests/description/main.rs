//! The description: every key of the example is known, defaults are what it says, mistakes are told
//! with line, key and way out, all at once.

mod mistakes;

use std::f32::consts::PI;
use std::path::Path;

use bolting_host::description::{Description, DescriptionError};
use bolting_monitor::arm::ArmModel;
use bolting_monitor::fastener::{Band, Locking};
use bolting_monitor::procedure::{Direction, Goal, Mode, Procedure};

const EXAMPLE: &str = include_str!("../../../examples/bolt.toml");
/// Stands where the reference arm lies.
const PLACE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/reference/bolt.toml");

fn example() -> String {
    EXAMPLE.replace("arm.urdf", "arm7.urdf")
}

fn read(text: &str) -> Result<Description, DescriptionError> {
    Description::parse(text, Path::new(PLACE))
}

fn refused(text: &str) -> String {
    read(text).unwrap_err().to_string()
}

/// The example with one line changed; panics if the line is not there.
fn with(from: &str, to: &str) -> String {
    let text = example();
    assert!(text.contains(from), "{from}");
    text.replacen(from, to, 1)
}

/// The line on which `needle` stands, from 1.
fn line_of(text: &str, needle: &str) -> usize {
    1 + text.lines().position(|line| line.contains(needle)).unwrap()
}

const SPINDLE: &str = r#"
schema = 1
name = "spindle"
[bolt]
thread = "M8"
[run]
mode = "powered_spindle"
"#;

#[test]
fn the_example_is_read_in_the_units_of_the_core() {
    let Description {
        job,
        arm,
        limits_rad,
        procedure,
        notices,
        invented,
        arm_file,
    } = read(&example()).unwrap();
    assert_eq!(procedure, Procedure::single(job.goal));
    assert!(arm_file.is_some_and(|path| path.ends_with("arm7.urdf")));
    assert!(!invented, "a copy of the example is a real bolt's");
    assert_eq!(job.name.as_str(), "cell-7 flange bolt 3");
    assert_eq!(
        (
            job.fastener.thread.diameter_mm,
            job.fastener.thread.pitch_mm
        ),
        (10.0, 1.5)
    );
    assert_eq!(
        (job.mode, job.fastener.left_hand, job.carried_nm),
        (Mode::WristStrokes, false, None)
    );
    assert_eq!(
        job.goal,
        Goal::Torque {
            target_nm: 48.0,
            tolerance: 0.1
        }
    );
    let (rundown, elastic) = (job.rundown_rad.unwrap(), job.elastic_rad.unwrap());
    assert!((rundown.value - 10.0 * PI).abs() < 1e-5); // 5 turns
    assert!((rundown.tolerance - PI).abs() < 1e-6); // half a turn
    assert!((elastic.value - PI / 3.0).abs() < 1e-6); // 60°
    assert!((elastic.tolerance - PI / 6.0).abs() < 1e-6);
    assert_eq!(
        job.fastener.locking,
        Some(Locking::Stated(Band::new(0.0, 0.8)))
    );

    let arm = arm.unwrap();
    assert!(ArmModel::<7>::try_new(&arm).is_ok());
    // Those of the URDF.
    assert_eq!((limits_rad.len(), limits_rad[0]), (7, Some([-2.9, 2.9])));
    assert_eq!((arm.tool.mass_kg, arm.tool.com_m), (1.2, [0.0, 0.0, 0.08]));
    assert_eq!(arm.mass_u, 0.02);
    for joint in &arm.joints {
        // The file, not the URDF's <dynamics>.
        assert_eq!(
            (
                joint.friction.coulomb_nm,
                joint.friction.viscous_nm_s_per_rad
            ),
            (0.3, 0.4)
        );
        assert_eq!(
            (joint.torque_noise_nm, joint.torque_zero_u_nm),
            (Some(0.06), 0.1)
        );
        assert_eq!(joint.torque_range_nm, Some(100.0));
    }
    assert!(notices.is_empty());
}

#[test]
fn the_example_is_read_as_it_is_shipped() {
    let shipped = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/bolt.toml");
    let arm = Description::load(Path::new(shipped)).unwrap().arm.unwrap();
    assert_eq!(arm.joints.len(), 7);
    // The arm of the simulator, which is invented, too.
    assert_eq!(
        include_str!("../../../examples/arm.urdf"),
        include_str!("../../src/simulate/arm.urdf")
    );
}

/// A commented key is a key, and leaving it out is the same as giving what the comment shows.
#[test]
fn the_defaults_are_those_that_the_example_shows() {
    let shown: String = example()
        .lines()
        .map(|line| {
            let key = line.strip_prefix("# ").filter(|rest| {
                rest.split_once(" = ").is_some_and(|(key, _)| {
                    key.chars()
                        .all(|c| c.is_ascii_lowercase() || c == '_' || c.is_ascii_digit())
                })
            });
            format!("{}\n", key.unwrap_or(line))
        })
        .collect();
    assert!(shown.matches("\n# ").count() < example().matches("\n# ").count() - 15);
    let (left_out, mut given) = (read(&example()).unwrap(), read(&shown).unwrap());
    // Shown with a figure, but unknown when left out, as the comments say.
    assert_eq!(given.job.tool.socket_play_rad.take(), Some(0.0));
    assert_eq!(given.job.tool.side_moment_limit_nm.take(), Some(48.0));
    assert_eq!(given.job.sensing.spindle_noise_nm.take(), Some(0.05));
    assert_eq!(given.job.sensing.prior_moment_nm.take(), Some(144.0));
    assert_eq!(given.job, left_out.job);
    assert_eq!(given.arm, left_out.arm);
}

#[test]
fn the_least_description_is_a_thread_and_a_way_of_turning() {
    let Description { job, arm, .. } = read(SPINDLE).unwrap();
    assert_eq!(job.mode, Mode::PoweredSpindle);
    assert_eq!(job.fastener.thread.pitch_mm, 1.25);
    assert_eq!(
        (job.goal, job.fastener.locking, job.rundown_rad),
        (Goal::Watch(Direction::Tighten), None, None)
    );
    assert_eq!(job.bolt_axis, None);
    assert!(arm.is_none());
}

#[test]
fn a_spindle_counts_clockwise_unless_it_is_said_to_count_the_way_it_drives() {
    let counts = |text: &str| read(text).unwrap().job.sensing.spindle_angle_counts_driving;
    assert!(!counts(SPINDLE));
    let driving = format!("{SPINDLE}[spindle]\nangle_counts = \"driving\"\n");
    assert!(counts(&driving));
    let error = read(&driving.replace("driving", "up"))
        .unwrap_err()
        .to_string();
    assert!(error.contains("`clockwise` or `driving`"), "{error}");
}

#[test]
fn friction_left_out_is_that_of_the_urdf() {
    let text: String = example()
        .lines()
        .filter(|line| !line.starts_with("coulomb_") && !line.starts_with("viscous_"))
        .map(|line| format!("{line}\n"))
        .collect();
    let arm = read(&text).unwrap().arm.unwrap();
    assert_eq!(arm.joints[0].friction.coulomb_nm, 0.62);
    assert_eq!(arm.joints[0].friction.coulomb_u_nm, 0.155);
    assert_eq!(arm.joints[6].friction.viscous_nm_s_per_rad, 0.12);
    assert_eq!(arm.joints[6].friction.coulomb_u_nm, 0.1); // the least
}

#[test]
fn a_figure_may_be_given_for_each_joint() {
    let text = with(
        "coulomb_friction_nm = 0.3",
        "coulomb_friction_nm = [1, 2, 3, 4, 5, 6, 7.5]",
    );
    let arm = read(&text).unwrap().arm.unwrap();
    assert_eq!(arm.joints[0].friction.coulomb_nm, 1.0);
    assert_eq!(arm.joints[6].friction.coulomb_nm, 7.5);

    let text = with(
        "coulomb_friction_nm = 0.3",
        "coulomb_friction_nm = [1, 2, 3]",
    );
    let error = refused(&text);
    assert!(
        error.contains("arm.coulomb_friction_nm has 3 numbers"),
        "{error}"
    );
    assert!(error.contains("one for all joints or 7"), "{error}");

    let error = refused(&with(
        "coulomb_friction_nm = 0.3",
        "coulomb_friction_nm = \"much\"",
    ));
    assert!(
        error.contains("a number for all joints or a list"),
        "{error}"
    );
}

#[test]
fn computed_figures_are_told_with_no_more_digits_than_they_have() {
    let told = refused(&with("target_torque_nm = 48.0", "target_torque_nm = 480.0"));
    let longest = told
        .split(|c: char| !c.is_ascii_digit() && c != '.')
        .map(|number| number.trim_matches('.').len())
        .max();
    assert!(longest.is_some_and(|digits| digits <= 6), "{told}");
}

#[test]
fn a_pitch_is_given_once_or_twice_the_same() {
    let fine = |thread: &str, pitch: &str| {
        read(&SPINDLE.replace(
            "thread = \"M8\"",
            &format!("thread = \"{thread}\"\n{pitch}"),
        ))
        .map(|d| d.job.fastener.thread.pitch_mm)
        .map_err(|e| e.to_string())
    };
    assert_eq!(fine("M10x1.25", ""), Ok(1.25));
    assert_eq!(fine("M10", "pitch_mm = 1.25"), Ok(1.25));
    assert_eq!(fine("M10x1.25", "pitch_mm = 1.25"), Ok(1.25));
    assert!(
        fine("M10x1.25", "pitch_mm = 1.0")
            .unwrap_err()
            .contains("give the pitch once")
    );
}

#[test]
fn a_unified_thread_has_its_pitch_from_the_designation() {
    let job = |bolt: &str| {
        read(&SPINDLE.replace("thread = \"M8\"", bolt))
            .map(|d| (d.job.fastener.thread.to_string(), d.job.fastener.left_hand))
            .map_err(|e| e.to_string())
    };
    let right = Ok(("3/8-16 UNC".to_owned(), false));
    assert_eq!(job("thread = \"3/8-16 UNC-2A\""), right);
    assert_eq!(job("thread = \"3/8-16\"\npitch_mm = 1.588"), right);
    let told = job("thread = \"3/8-16\"\npitch_mm = 1.5").unwrap_err();
    assert!(told.contains("give the pitch once"), "{told}");
    let told = job("thread = \"3/8-18\"").unwrap_err();
    assert!(told.contains("16 (UNC) 24 (UNF)"), "{told}");
}

#[test]
fn a_left_hand_designation_needs_the_hand_stated_as_well() {
    let left = |bolt: &str| {
        read(&SPINDLE.replace("thread = \"M8\"", bolt))
            .map(|d| d.job.fastener.left_hand)
            .map_err(|e| e.to_string())
    };
    assert_eq!(left("thread = \"M8-LH\"\nhand = \"left\""), Ok(true));
    let told = left("thread = \"M8-LH\"").unwrap_err();
    assert!(told.contains("state hand = \"left\""), "{told}");
}
