//! A run as files: samples, truth, and the description that a user would write.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use super::fault::Fault;
use super::rows::csv;
use super::scenario::{Direction, Event, Mode, Return, Scenario};
use super::setup::JOINTS;
use super::{SimulatedRun, URDF, free_motion, simulate};
use crate::whole_file;

/// What becomes of files that are there already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Existing {
    /// They are replaced.
    Replace,
    /// They stay, and nothing is written, unless they are what would be written.
    Keep,
}

/// A file of a run that could not be written.
#[derive(Debug)]
pub struct WriteError {
    path: PathBuf,
    cause: Box<dyn std::error::Error + Send + Sync>,
}

impl std::fmt::Display for WriteError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "cannot write {}: {}{}",
            self.path.display(),
            self.cause,
            match self.cause.is::<std::io::Error>() {
                true => "; check that the folder may be written to and has room",
                false => "",
            }
        )
    }
}

impl std::error::Error for WriteError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(self.cause.as_ref())
    }
}

/// Writes `name.csv`, `name.truth.json`, `name.toml` and, once per folder, `arm.urdf`.
///
/// # Errors
/// When the folder or one of the files cannot be written, or one is there and is to be kept.
pub fn write_run(
    dir: &Path,
    name: &str,
    scenario: &Scenario,
    run: &SimulatedRun,
    existing: Existing,
) -> Result<(), WriteError> {
    let truth = truth(run).map_err(Into::into);
    let files = [
        ("toml", Ok(description(name, scenario, run).into_bytes())),
        ("truth.json", truth),
        ("csv", csv(&run.rows, JOINTS)),
    ];
    write_all(dir, name, files, existing)
}

/// Writes the same files of an arm that moves in free air; the description is that of its bolt.
///
/// # Errors
/// As [`write_run`].
pub fn write_free(
    dir: &Path,
    name: &str,
    scenario: &Scenario,
    seconds: f64,
    existing: Existing,
) -> Result<(), WriteError> {
    let (rows, truth) = free_motion(scenario, seconds);
    let bolt = description(name, scenario, &simulate(scenario));
    let files = [
        ("toml", Ok(bolt.into_bytes())),
        ("truth.json", serde_json::to_vec(&truth).map_err(Into::into)),
        ("csv", csv(&rows, JOINTS)),
    ];
    write_all(dir, name, files, existing)
}

pub(super) type Content = Result<Vec<u8>, Box<dyn std::error::Error + Send + Sync>>;

/// All of them or, where one is there and is to be kept, none.
fn write_all(
    dir: &Path,
    name: &str,
    files: [(&str, Content); 3],
    existing: Existing,
) -> Result<(), WriteError> {
    let fail = |path: &Path, cause: Box<dyn std::error::Error + Send + Sync>| WriteError {
        path: path.to_owned(),
        cause,
    };
    std::fs::create_dir_all(dir).map_err(|e| fail(dir, e.into()))?;
    let named = files
        .into_iter()
        .map(|(ending, content)| (dir.join(format!("{name}.{ending}")), content));
    let mut due = Vec::new();
    for (path, content) in std::iter::once((dir.join("arm.urdf"), Ok(URDF.into()))).chain(named) {
        let content = content.map_err(|e| fail(&path, e))?;
        match std::fs::read(&path) {
            Ok(found) if found == content => {}
            Ok(_) if existing == Existing::Keep => return Err(fail(&path, OTHER.into())),
            _ => due.push((path, content)),
        }
    }
    for (path, content) in due {
        whole_file::write_for_now(&path, &content).map_err(|e| fail(&path, e.into()))?;
    }
    Ok(())
}

const OTHER: &str =
    "another file of that name is there, and it is kept: give another folder, or take it away";

/// Truth as JSON.
pub(crate) fn truth(run: &SimulatedRun) -> serde_json::Result<Vec<u8>> {
    serde_json::to_vec(&Rounded(&run.truth))
}

/// Truth with its long columns rounded far below what matters.
struct Rounded<'a>(&'a super::Truth);

impl serde::Serialize for Rounded<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut truth = self.0.clone();
        for column in [
            &mut truth.bolt_torque_nm,
            &mut truth.bolt_angle_rad,
            &mut truth.tool_angle_rad,
        ] {
            column
                .iter_mut()
                .for_each(|x| *x = (*x * 1e5).round() / 1e5);
        }
        truth
            .advance_m
            .iter_mut()
            .for_each(|x| *x = (*x * 1e7).round() / 1e7);
        truth.serialize(serializer)
    }
}

fn list(values: &[f64]) -> String {
    let items: Vec<String> = values.iter().map(|x| format!("{x:?}")).collect();
    format!("[{}]", items.join(", "))
}

fn round(x: f64, step: f64) -> f64 {
    // Back through text, so that the file shows no binary tail.
    format!("{:.4}", (x / step).round() * step)
        .parse()
        .unwrap_or(x)
}

/// Range of the joint torques as a data sheet would state it: far beyond what this work loads them
/// with, but for one that is too small.
fn ranges_nm(s: &Scenario) -> [f64; JOINTS] {
    let mut ranges = [AMPLE_RANGE_NM; JOINTS];
    if let Fault::SensorSaturated { joint, limit_nm } = s.fault
        && let Some(range) = ranges.get_mut(joint.saturating_sub(1))
    {
        *range = limit_nm;
    }
    ranges
}

const AMPLE_RANGE_NM: f64 = 1000.0;

/// What a user allows for joints that warm up, standard uncertainty as a part of the friction.
const WARM_UP_U: f64 = 0.17;

/// The description as TOML: nominal figures with stated uncertainty, not the true errors of this
/// run. It names the arm as `arm.urdf` beside it.
pub fn description(name: &str, s: &Scenario, run: &SimulatedRun) -> String {
    let mut t = String::new();
    let (b, st, tool, arm) = (&s.bolt, &s.stated, &s.tool, &s.arm);
    let fine = |x: f64| round(x, 0.0001);
    let mode = match s.mode {
        Mode::WristStrokes { .. } => "wrist_strokes",
        Mode::PoweredSpindle { .. } => "powered_spindle",
    };
    let direction = match s.direction {
        Direction::Tighten => "tighten",
        Direction::Undo => "undo",
    };
    let short: String = name.chars().take(32).collect();
    let error = arm.friction_error.hypot(WARM_UP_U);
    let lines = [
        "# Simulated run in an invented scenario.".to_owned(),
        "schema = 1".to_owned(),
        format!("name = {}", toml::Value::String(short)),
        "invented = true".to_owned(),
        "\n[bolt]".to_owned(),
        format!("thread = \"M{}x{}\"", b.diameter_mm, b.pitch_mm),
        "\n[run]".to_owned(),
        format!("direction = \"{direction}\""),
        format!("mode = \"{mode}\""),
        format!("target_torque_nm = {:?}", fine(b.target_nm)),
        format!(
            "torque_tolerance_percent = {:?}",
            fine(st.torque_tolerance_percent)
        ),
        format!("rundown_turns = {:?}", fine(st.rundown_turns)),
        format!(
            "rundown_tolerance_turns = {:?}",
            fine(st.rundown_tolerance_turns)
        ),
        format!("elastic_angle_deg = {:?}", fine(st.elastic_deg)),
        format!(
            "elastic_tolerance_deg = {:?}",
            fine(st.elastic_tolerance_deg)
        ),
        format!(
            "prevailing_torque_nm = {{ min = {:?}, max = {:?} }}",
            fine(st.prevailing_nm[0]),
            fine(st.prevailing_nm[1])
        ),
        "\n[tool]".to_owned(),
        format!(
            "axis = {}",
            if tool.angle_head {
                "[1.0, 0.0, 0.0]"
            } else {
                "[0.0, 0.0, 1.0]"
            }
        ),
        format!("windup_nm_per_rad = {:?}", fine(st.windup_nm_per_rad)),
        match &s.mode {
            Mode::WristStrokes {
                back: Return::Ratchet { tooth_deg, .. },
                ..
            } => {
                format!("ratchet_tooth_deg = {:?}", fine(*tooth_deg))
            }
            _ => "# no ratchet".to_owned(),
        },
        format!("socket_play_deg = {:?}", fine(st.play_deg)),
        // An angle head has no length along the turning axis.
        format!(
            "length_m = {:?}",
            if tool.angle_head {
                0.0
            } else {
                fine(tool.length_m)
            }
        ),
        format!("mass_kg = {:?}", fine(tool.mass_kg)),
        format!("centre_of_mass_m = [0.0, 0.0, {:?}]", fine(tool.centre_m)),
        "\n[bolt_axis]".to_owned(),
        format!(
            "point_m = {}",
            list(&run.truth.axis_point_m.map(|x| round(x, 0.0005)))
        ),
        format!(
            "direction = {}",
            list(&run.truth.axis_direction.map(|x| round(x, 0.0025)))
        ),
        "\n[arm]".to_owned(),
        "urdf = \"arm.urdf\"".to_owned(),
        "tip_link = \"tool_flange\"".to_owned(),
        format!(
            "joint_torque_noise_nm = {}",
            list(&arm.torque_noise_nm.map(fine))
        ),
        format!("joint_torque_range_nm = {}", list(&ranges_nm(s).map(fine))),
        format!("coulomb_friction_nm = {}", list(&arm.coulomb_nm.map(fine))),
        format!(
            "coulomb_friction_u_nm = {}",
            list(&arm.coulomb_nm.map(|x| fine((error * x).max(0.01))))
        ),
        format!(
            "viscous_friction_nm_s_per_rad = {}",
            list(&arm.viscous_nm_s_per_rad.map(fine))
        ),
        format!(
            "viscous_friction_u_nm_s_per_rad = {}",
            list(
                &arm.viscous_nm_s_per_rad
                    .map(|x| fine((error * x).max(0.01)))
            )
        ),
        format!(
            "torque_zero_u_nm = {:?}",
            fine(arm.drift_nm_per_min.max(0.02))
        ),
        format!(
            "mass_u_percent = {:?}",
            fine((150.0 * arm.mass_error).max(0.5))
        ),
    ];
    for line in lines {
        t.push_str(&line);
        t.push('\n');
    }
    if let Mode::PoweredSpindle {
        torque_noise_nm, ..
    } = &s.mode
    {
        // Writing to a string cannot fail.
        let _ = write!(
            t,
            "\n[spindle]\ntorque_noise_nm = {:?}\ntorque_u_percent = 1.0\ntorque_zero_u_nm = {:?}\n",
            fine(*torque_noise_nm),
            fine(0.4 * torque_noise_nm)
        );
    }
    if s.events.iter().any(|e| matches!(e, Event::Payload { .. })) {
        let centre = list(&s.payload.centre_m.map(fine));
        // Writing to a string cannot fail.
        let _ = write!(
            t,
            "\n[payload]\nmass_kg = {:?}\ncentre_of_mass_m = {centre}\n",
            fine(s.payload.mass_kg)
        );
    }
    t.push_str("\n[tare]\nduration_s = 0.5\n");
    t
}

#[cfg(test)]
mod tests {
    use super::super::{Truth, campaign, simulate};
    use super::*;

    #[test]
    fn scenarios_survive_toml() {
        for index in 0..8 {
            let s = campaign(1, index);
            assert_eq!(
                toml::from_str::<Scenario>(&toml::to_string(&s).unwrap()).unwrap(),
                s
            );
        }
    }

    #[test]
    fn files_have_the_agreed_columns_and_a_readable_description() {
        let dir =
            std::env::temp_dir().join(format!("bolting-simulate-files-{}", std::process::id()));
        for (name, s) in [
            ("wrist", Scenario::default()),
            (
                "spindle",
                Scenario {
                    mode: Mode::spindle(),
                    ..Scenario::default()
                },
            ),
        ] {
            let run = simulate(&s);
            write_run(&dir, name, &s, &run, Existing::Keep).unwrap();
            let mut csv = csv::Reader::from_path(dir.join(format!("{name}.csv"))).unwrap();
            let columns = if name == "wrist" { 22 } else { 24 };
            assert_eq!(csv.headers().unwrap().len(), columns);
            assert_eq!(csv.records().count(), run.rows.len());
            let text = std::fs::read_to_string(dir.join(format!("{name}.toml"))).unwrap();
            let table: toml::Table = toml::from_str(&text).unwrap();
            assert_eq!(table["run"]["target_torque_nm"].as_float(), Some(48.0));
            let text = std::fs::read_to_string(dir.join(format!("{name}.truth.json"))).unwrap();
            let truth: Truth = serde_json::from_str(&text).unwrap();
            assert_eq!(truth.bolt_torque_nm.len(), run.rows.len());
        }
        assert_eq!(std::fs::read_to_string(dir.join("arm.urdf")).unwrap(), URDF);
        std::fs::remove_dir_all(dir).unwrap();
    }
}
