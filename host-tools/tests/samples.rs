//! What the reader of recordings takes, and what it refuses with which line.

use std::path::Path;

use bolting_host::samples::{BadRows, Fault, Recording, SamplesError};
use bolting_monitor::sample::{Context, JointSample};
use proptest::prelude::*;

const NAME: &str = "run.csv";

fn read_as(bytes: impl AsRef<[u8]>, bad_rows: BadRows) -> Result<Recording, SamplesError> {
    Recording::parse(bytes.as_ref(), Path::new(NAME), bad_rows)
}

fn read(text: &str) -> Recording {
    read_as(text, BadRows::Refuse).unwrap()
}

fn refused(text: &str) -> String {
    read_as(text, BadRows::Refuse).unwrap_err().to_string()
}

fn samples<const N: usize>(recording: &Recording) -> Vec<JointSample<N>> {
    recording.samples().unwrap().collect()
}

const TWO_JOINTS: &str = "time_s,q1,q2,dq1,dq2,tau1,tau2\n\
    0.000,0.1,0.2,0.3,0.4,0.5,0.6\n\
    0.001,1.1,1.2,1.3,1.4,1.5,1.6\n";

#[test]
fn joints_come_in_the_order_of_their_numbers() {
    let all = samples::<2>(&read(TWO_JOINTS));
    assert_eq!(all.len(), 2);
    assert_eq!(all[1].time_us, 1000);
    assert_eq!(all[1].position_rad, [1.1, 1.2]);
    assert_eq!(all[1].velocity_rad_s, Some([1.3, 1.4]));
    assert_eq!(all[1].torque_nm, [1.5, 1.6]);
    assert_eq!(
        (all[1].wrist, all[1].spindle, all[1].context),
        (None, None, Context::new())
    );
}

#[test]
fn the_order_of_the_columns_is_free_and_others_are_left_out_with_a_notice() {
    let recording = read("note,tau2,q1,time_s,tau1,q2\nx,4,1,0.5,3,2\n");
    let all = samples::<2>(&recording);
    assert_eq!(
        (all[0].position_rad, all[0].torque_nm),
        ([1.0, 2.0], [3.0, 4.0])
    );
    assert_eq!(all[0].velocity_rad_s, None);
    assert_eq!(recording.notices.len(), 1);
    assert!(recording.notices[0].contains("\"note\""));
}

#[test]
fn a_spindle_may_be_alone() {
    let recording = read("time_s,spindle_angle_rad,spindle_torque_nm\n0,1.5,20\n");
    let spindle = samples::<0>(&recording)[0].spindle.unwrap();
    assert_eq!((spindle.angle_rad, spindle.torque_nm), (1.5, 20.0));
    assert!(recording.samples::<1>().is_none());
}

#[test]
fn wrist_and_context_are_taken_with_the_joints() {
    let all = samples::<1>(&read(
        "time_s,q1,tau1,wrist_fx_n,wrist_fy_n,wrist_fz_n,wrist_mx_nm,wrist_my_nm,wrist_mz_nm,\
         force_ratio,arm_enabled,tool_powered,tool_held,payload_held\n\
         0,1,2,3,4,5,6,7,8,0.25,0,1,0.0,1.0\n",
    ));
    let wrist = all[0].wrist.unwrap();
    assert_eq!(
        (wrist.force_n, wrist.moment_nm),
        ([3.0, 4.0, 5.0], [6.0, 7.0, 8.0])
    );
    let context = Context {
        force_ratio: 0.25,
        arm_enabled: false,
        tool_powered: true,
        tool_held: false,
        payload_held: true,
    };
    assert_eq!(all[0].context, context);
}

#[test]
fn a_byte_order_mark_carriage_returns_and_blanks_change_nothing() {
    let plain = samples::<2>(&read(TWO_JOINTS));
    let dressed = format!(
        "\u{feff}{}",
        TWO_JOINTS.replace('\n', "\r\n").replace(',', " , ")
    );
    assert_eq!(samples::<2>(&read(&dressed)), plain);
    assert_eq!(samples::<2>(&read(TWO_JOINTS.trim_end())), plain);
}

#[test]
fn negative_times_count_from_the_first_row_and_equal_times_are_taken() {
    let times = |text: &str| -> Vec<u64> {
        let text = format!("time_s,q1,tau1\n{text}");
        samples::<1>(&read(&text))
            .iter()
            .map(|s| s.time_us)
            .collect()
    };
    assert_eq!(
        times("-0.5,0,0\n-0.25,0,0\n0.25,0,0\n"),
        [0, 250_000, 750_000]
    );
    assert_eq!(
        times("2,0,0\n2,0,0\n2.0000016,0,0\n"),
        [2_000_000, 2_000_000, 2_000_002]
    );
    // Seconds since 1970 keep their µs.
    assert_eq!(times("1764000000.123456,0,0\n"), [1_764_000_000_123_456]);
}

#[test]
fn a_fault_is_told_with_its_line_and_its_column() {
    let row = |row: &str| {
        refused(&format!(
            "time_s,q1,tau1,tool_held\n0,0,0,1\n{row}\n0.1,0,0,1\n"
        ))
    };
    for (text, told) in [
        ("0.05,x,0,1", "column \"q1\" holds \"x\""),
        ("0.05,,0,1", "column \"q1\" holds \"\""),
        ("0.05,0,NaN,1", "column \"tau1\" holds \"NaN\""),
        ("0.05,0,-inf,1", "column \"tau1\" holds \"-inf\""),
        ("nan,0,0,1", "column \"time_s\" holds \"nan\""),
        (
            "0.05,1e39,0,1",
            "column \"q1\" holds 1e39, which is too large",
        ),
        ("1e300,0,0,1", "column \"time_s\" holds 1e300"),
        (
            "0.05,0,0,0.5",
            "column \"tool_held\" holds 0.5: a switch is 0 or 1",
        ),
        ("-0.1,0,0,1", "time runs backwards, from 0 s to -0.1 s"),
        ("0.05,0", "2 fields, the header 4"),
        ("0,05,0,0,1", "5 fields, the header 4"),
    ] {
        let error = row(text);
        assert!(error.starts_with("run.csv: line 3: "), "{error}");
        assert!(error.contains(told), "{text}: {error}");
    }
}

#[test]
fn blank_lines_are_passed_over_but_counted() {
    let error = refused("time_s,q1,tau1\n\n0,0,0\r\n\r\n\n0.1,x,0\n");
    assert!(error.starts_with("run.csv: line 6: "), "{error}");
}

#[test]
fn a_header_without_what_is_needed_names_what_is_missing() {
    for (header, told) in [
        (
            "time_s,q1,q2,q3,tau1,tau2",
            "\"tau3\" is missing, the recording has \"q3\"",
        ),
        (
            "time_s,q1,tau1,tau2",
            "\"q2\" is missing, the recording has \"tau2\"",
        ),
        ("time_s,q1,q2,dq2,tau1,tau2", "\"dq1\" is missing"),
        ("q1,tau1", "\"time_s\" is missing"),
        (
            "time_s,spindle_angle_rad",
            "\"spindle_torque_nm\" is missing",
        ),
        ("time_s,q1,tau1,wrist_fx_n", "\"wrist_fy_n\" is missing"),
        ("time_s,q1,q1,tau1", "\"q1\" stands there twice"),
        ("time_s,q9,tau9", "at most 8 joints"),
        ("time_s,x", "neither joint columns"),
        ("0.0,1.0,2.0", "holds numbers"),
        ("time_s;q1;tau1", "separated by semicolons"),
        ("TIME_S,Q1,TAU1", "rename it \"time_s\""),
        ("time_s,Q1,tau1", "rename it \"q1\""),
        ("time,q1,tau1", "\"time\" holds the time"),
        ("t_ms,time_ms,q1,tau1", "convert it to seconds"),
        ("time_s,q0,q1,tau1,tau2", "joints are counted from 1"),
    ] {
        let error = refused(&format!("{header}\n0,0,0\n"));
        assert!(error.starts_with("run.csv: line 1: "), "{error}");
        assert!(error.contains(told), "{header}: {error}");
    }
    assert!(refused("").contains("the file is empty"));
    assert!(refused("time_s,q1,tau1\n").contains("no row that can be used"));
    let error = Recording::load(Path::new("no/such.csv"), BadRows::Refuse).unwrap_err();
    assert!(error.to_string().starts_with("no/such.csv: cannot be read"));
}

#[test]
fn rows_a_second_apart_are_asked_for_their_unit() {
    let rows = |step: f64| {
        let row = |i: i32| format!("{},0,0\n", f64::from(i) * step);
        format!("time_s,q1,tau1\n{}", (0..9).map(row).collect::<String>())
    };
    let told = read(&rows(9.5)).notices.join("\n");
    assert!(
        told.contains("9.500 s apart: is time_s in milliseconds"),
        "{told}"
    );
    assert!(read(&rows(0.1)).notices.is_empty());
}

#[test]
fn a_spindle_that_turns_further_than_bolts_do_is_asked_for_its_unit() {
    let run_of = |end: f32| {
        let row = |i: u8| format!("{0},{1},0\n", f32::from(i) * 0.1, f32::from(i) * end / 20.0);
        let rows: String = (0..=20).map(row).collect();
        read(&format!(
            "time_s,spindle_angle_rad,spindle_torque_nm\n{rows}"
        ))
    };
    let told = run_of(1080.0).notices.join("\n");
    assert!(
        told.contains("172 turns: is spindle_angle_rad in degrees?"),
        "{told}"
    );
    assert!(run_of(1080_f32.to_radians()).notices.is_empty());
}

#[test]
fn only_an_angle_that_stays_within_a_turn_is_joined() {
    let angles = |angles: &[f32]| {
        let row = |(i, a): (usize, &f32)| format!("{},{a},0\n", i as f32 * 0.01);
        let rows: String = angles.iter().enumerate().map(row).collect();
        let recording = read(&format!(
            "time_s,spindle_angle_rad,spindle_torque_nm\n{rows}"
        ));
        let read: Vec<_> = (recording.spindle_samples())
            .map(|s| s.spindle.unwrap().angle_rad)
            .collect();
        (read, recording.notices.len())
    };
    let tau = std::f32::consts::TAU;
    let joined = angles(&[5.9, 6.2, 0.2, 0.5, 6.2]);
    for (read, due) in joined.0.iter().zip([5.9, 6.2, 0.2 + tau, 0.5 + tau, 6.2]) {
        assert!((read - due).abs() < 1e-5, "{joined:?}");
    }
    assert_eq!(joined.1, 1);
    // A count that goes on, with a turn that was not read.
    let counted = [5.9, 6.2, 12.5, 12.8];
    assert_eq!(angles(&counted), (counted.to_vec(), 0));
}

#[test]
fn skipped_rows_are_counted_and_the_first_faults_kept() {
    let mut bytes = b"time_s,q1,tau1\n0.2,1,1\n0.1,2,2\n0.3,x,3\n0.4,\xff,4\n0.5,5,5\n".to_vec();
    for _ in 0..10 {
        bytes.extend_from_slice(b"short\n");
    }
    let recording = read_as(&bytes, BadRows::Skip).unwrap();
    assert_eq!(recording.len(), 2);
    assert_eq!(recording.skipped, 13);
    let lines: Vec<_> = recording.faults.iter().map(|(line, _)| *line).collect();
    assert_eq!(lines, [3, 4, 5, 7, 8]);
    assert_eq!(recording.faults[2].1, Fault::NotText);
    let error = read_as(&bytes[..bytes.len() - 80], BadRows::Refuse).unwrap_err();
    assert_eq!(error.line, Some(3));
    assert!(read_as("time_s,q1,tau1\nx,x,x\n", BadRows::Skip).is_err());
}

/// A row that is bad beside its time must not make the good ones after it look late.
#[test]
fn a_skipped_row_does_not_move_the_clock() {
    let text = "time_s,q1,tau1\n0,0,0\n9,x,0\n1,0,0\n";
    let recording = read_as(text, BadRows::Skip).unwrap();
    assert_eq!((recording.len(), recording.skipped), (2, 1));
}

proptest! {
    #[test]
    fn no_bytes_make_it_panic(rows in "[-0-9eE.,naif\r\n\" ]{0,200}", bytes: Vec<u8>) {
        let mut file = b"time_s,q1,tau1,tool_held\n".to_vec();
        file.extend_from_slice(rows.as_bytes());
        file.extend_from_slice(&bytes);
        if let Ok(recording) = read_as(&file, BadRows::Skip) {
            let all = samples::<1>(&recording);
            let finite = |s: &JointSample<1>| s.position_rad[0].is_finite() && s.torque_nm[0].is_finite();
            prop_assert!(all.iter().all(finite));
            prop_assert!(all.is_sorted_by_key(|s| s.time_us));
        }
        let _ = read_as(&bytes, BadRows::Refuse);
    }
}
