//! The JSON form of `replay --json`, held to its keys.

use assert_cmd::Command;
use serde_json::Value;

const RUN_KEYS: [&str; 17] = [
    "alarms",
    "final_angle_rad",
    "final_angle_u_rad",
    "final_torque_nm",
    "final_torque_u_nm",
    "gaps",
    "invented",
    "reasons",
    "run",
    "samples",
    "schema_version",
    "skipped_rows",
    "snug_angle_rad",
    "snug_angle_u_rad",
    "snug_torque_nm",
    "unusable_samples",
    "verdict",
];
const ALARM_KEYS: [&str; 17] = [
    "advance_ratio",
    "angle_rad",
    "joint",
    "kind",
    "likely",
    "limit",
    "next_step",
    "quantity",
    "relief",
    "runner_up",
    "seen",
    "slope_nm_per_rad",
    "stops",
    "time_s",
    "torque_nm",
    "torque_u_nm",
    "value",
];
/// Where a number may be missing: not observable, no snug, no arm to tell the advance, nothing to
/// point at.
const MAY_BE_NULL: [&str; 12] = [
    "advance_ratio",
    "final_angle_u_rad",
    "final_torque_nm",
    "final_torque_u_nm",
    "joint",
    "likely",
    "relief",
    "runner_up",
    "snug_angle_rad",
    "snug_angle_u_rad",
    "snug_torque_nm",
    "torque_nm",
];
const NOT_NUMBERS: [&str; 13] = [
    "alarms",
    "invented",
    "kind",
    "likely",
    "next_step",
    "quantity",
    "reasons",
    "relief",
    "run",
    "runner_up",
    "seen",
    "stops",
    "verdict",
];

/// The tool itself.
pub fn tool() -> Command {
    Command::cargo_bin("bolting-host").unwrap()
}

/// The reports on standard output, each with exactly its keys and with finite numbers.
pub fn reports(stdout: &[u8]) -> Vec<Value> {
    let text = std::str::from_utf8(stdout).unwrap();
    let reports: Vec<Value> = text
        .lines()
        .map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}")))
        .collect();
    for report in &reports {
        assert_form(report, &RUN_KEYS);
        assert_eq!(report["schema_version"], 1);
        let alarms = report["alarms"].as_array().unwrap();
        alarms
            .iter()
            .for_each(|alarm| assert_form(alarm, &ALARM_KEYS));
    }
    reports
}

fn assert_form(object: &Value, keys: &[&str]) {
    // serde_json keeps the keys of an object sorted.
    let found: Vec<_> = object.as_object().unwrap().keys().collect();
    assert_eq!(found, keys, "{object}");
    for (key, value) in object.as_object().unwrap() {
        let fits = match value {
            Value::Number(number) => number.as_f64().is_some_and(f64::is_finite),
            Value::Null => MAY_BE_NULL.contains(&key.as_str()),
            _ => NOT_NUMBERS.contains(&key.as_str()),
        };
        assert!(fits, "{key} in {object}");
    }
}
