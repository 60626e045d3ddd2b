//! What is refused, and how it is told.

use std::path::Path;

use bolting_host::description::{Description, DescriptionError};

use super::{SPINDLE, example, line_of, read, refused, with};

#[test]
fn an_unknown_key_is_shown_with_its_line_and_the_known_ones() {
    let text = with("rundown_turns = 5.0", "rundown_truns = 5.0");
    let error = refused(&text);
    assert!(error.contains("bolt.toml"), "{error}");
    assert!(
        error.contains(&format!("line {}", line_of(&text, "rundown_truns"))),
        "{error}"
    );
    assert!(
        error.contains("run.rundown_truns is not known here: is `rundown_turns` meant?"),
        "{error}"
    );

    let error = refused(&with("\"wrist_strokes\"", "\"hammer\""));
    assert!(
        error.contains("`wrist_strokes` or `powered_spindle`"),
        "{error}"
    );
}

#[test]
fn every_mistake_is_told_at_once_with_its_line() {
    let text = example()
        .replace("rundown_turns = 5.0", "rundown_turns = \"five\"")
        .replace("windup_nm_per_rad = 3000.0", "wind_up_nm_per_rad = 3000.0")
        .replace("target_torque_nm = 48.0", "target_torque_nm = -48.0")
        .replace("thread = \"M10\"", "thread = \"M11\"")
        .replace("tip_link = \"tool_flange\"", "tip_link = \"hand\"");
    let Err(DescriptionError::Mistakes { mistakes, .. }) = read(&text) else {
        panic!("mistakes expected");
    };
    let told: Vec<_> = mistakes.iter().map(|m| (m.key.as_str(), m.line)).collect();
    assert_eq!(
        told,
        [
            ("bolt.thread", line_of(&text, "thread =")),
            ("run.target_torque_nm", line_of(&text, "target_torque_nm =")),
            ("run.rundown_turns", line_of(&text, "rundown_turns =")),
            (
                "run.rundown_tolerance_turns",
                line_of(&text, "rundown_tolerance_turns =")
            ),
            (
                "tool.wind_up_nm_per_rad",
                line_of(&text, "wind_up_nm_per_rad =")
            ),
            ("arm.urdf", line_of(&text, "urdf =")),
        ]
    );
    // Without the way of turning nothing else can be judged.
    let error = refused(&text.replace("mode = \"wrist_strokes\"", "mode = \"hammer\""));
    assert!(error.contains("run.mode cannot be read"), "{error}");
    assert!(!error.contains("missing field"), "{error}");
    let error = refused(&text.replace("mode = \"wrist_strokes\"", ""));
    assert!(error.contains("missing field `mode`"), "{error}");
}

#[test]
fn figures_without_a_meaning_are_refused() {
    for (from, to, told) in [
        ("schema = 1", "schema = 2", "schema must be 1"),
        (
            "cell-7 flange bolt 3",
            "a name of more than thirty-two bytes",
            "name is longer than 32 bytes",
        ),
        (
            "target_torque_nm = 48.0",
            "target_torque_nm = 0",
            "run.target_torque_nm is 0: give more than 0",
        ),
        (
            "target_torque_nm = 48.0",
            "target_torque_nm = nan",
            "run.target_torque_nm is NaN: give a finite",
        ),
        (
            "target_torque_nm = 48.0",
            "target_torque_nm = 0.5",
            "reaches 0.8, the target is 0.5",
        ),
        (
            "# torque_tolerance_percent = 10.0",
            "torque_tolerance_percent = 120",
            "and at most 50",
        ),
        (
            "rundown_tolerance_turns = 0.5",
            "rundown_tolerance_turns = 6",
            "at most 5",
        ),
        ("rundown_turns = 5.0", "", "without run.rundown_turns"),
        (
            "min = 0.0, max = 0.8",
            "min = 0.9, max = 0.8",
            "min 0.9 above max 0.8",
        ),
        (
            "thread_friction = { min = 0.12, max = 0.16 }",
            "thread_friction = { min = 1.1, max = 0.14 }",
            "bolt.thread_friction holds 1.1: coefficients of friction lie between 0 and 1",
        ),
        (
            "length_m = 0.20",
            "length_m = 200",
            "at most 5 m, is it in millimetres?",
        ),
        (
            "rundown_turns = 5.0",
            "rundown_turns = 1e9",
            "at most 1000, more turns than a thread of a metre has",
        ),
        (
            "min = 0.0, max",
            "min = -1.0, max",
            "run.prevailing_torque_nm is -1: give 0 or more",
        ),
        (
            "windup_nm_per_rad = 3000.0",
            "windup_nm_per_rad = 0.0",
            "tool.windup_nm_per_rad is 0",
        ),
        (
            "# axis = [0.0, 0.0, 1.0]",
            "axis = [0, 0, 0]",
            "tool.axis is zero",
        ),
        (
            "direction = [0.0, 0.0, -1.0]",
            "direction = [0, 0, 0.0]",
            "bolt_axis.direction is zero",
        ),
        (
            "mass_kg = 1.2",
            "mass_kg = -1.2",
            "tool.mass_kg is -1.2: give 0 or more",
        ),
        (
            "# pitch_mm = 1.5",
            "pitch_mm = 2.0",
            "bolt.pitch_mm is 2, not a pitch of this size",
        ),
        (
            "# duration_s = 0.5",
            "duration_s = -1",
            "tare.duration_s is -1",
        ),
        ("arm7.urdf", "none.urdf", "none.urdf: "),
        (
            "mass_kg = 1.2",
            "mass_kg = 1e7",
            "tool mass_kg is not a number between",
        ),
    ] {
        let error = refused(&with(from, to));
        assert!(error.contains(told), "{to}: {error}");
    }
    let no_arm = SPINDLE.replace("powered_spindle", "wrist_strokes");
    assert!(refused(&no_arm).contains("give the table [arm]"));
}

#[test]
fn a_pass_without_a_figure_is_told_where_it_stands() {
    let text = format!("{SPINDLE}[[pass]]\n");
    let told = refused(&text);
    let line = line_of(&text, "[[pass]]");
    assert!(
        told.contains(&format!(
            "line {line}: pass.target_torque_nm is missing: the goal \"torque\" needs it"
        )),
        "{told}"
    );
}

#[test]
fn a_missing_file_is_told_with_its_path() {
    let error = Description::load(Path::new("no/such/bolt.toml"))
        .unwrap_err()
        .to_string();
    assert!(
        error.starts_with("no/such/bolt.toml: cannot be read"),
        "{error}"
    );
}
