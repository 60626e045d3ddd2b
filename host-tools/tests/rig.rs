//! The rehearsal of a described procedure: what it tells of good and bad descriptions, and of wrong ones.

use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

const EXAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples");

fn tool() -> Command {
    Command::cargo_bin("bolting-host").unwrap()
}

/// Everything told of a spindle's bolt, invented.
const GOOD: &str = r#"schema = 1
name = "invented bolt"
invented = true
[bolt]
thread = "M10"
class = "8.8"
thread_friction = { min = 0.12, max = 0.16 }
head_friction = { min = 0.12, max = 0.16 }
[run]
mode = "powered_spindle"
target_torque_nm = 40.0
rundown_turns = 3.0
elastic_angle_deg = 60.0
prevailing_torque_nm = { min = 0.0, max = 1.0 }
[tool]
windup_nm_per_rad = 4000.0
[spindle]
torque_noise_nm = 0.05
"#;

/// Runs `rig` on a description in a folder of its own; gives exit code, standard output and error.
fn rig(description: &str, arguments: &[&str]) -> (Option<i32>, String, String) {
    let folder = tempfile::tempdir().unwrap();
    put(&folder, description);
    in_folder(folder.path(), arguments)
}

fn put(folder: &TempDir, description: &str) {
    std::fs::write(folder.path().join("bolt.toml"), description).unwrap();
    let arm = Path::new(EXAMPLES).join("arm.urdf");
    std::fs::copy(arm, folder.path().join("arm.urdf")).unwrap();
}

fn in_folder(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = tool()
        .current_dir(folder)
        .args(["rig", "bolt.toml", "--rate", "250"])
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

fn example(name: &str) -> String {
    std::fs::read_to_string(Path::new(EXAMPLES).join(name)).unwrap()
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn conclusions(rehearsal: &Value) -> String {
    let passes = rehearsal["passes"].as_array().unwrap();
    let said = passes
        .iter()
        .flat_map(|p| p["conclusions"].as_array().unwrap());
    said.map(|c| c.as_str().unwrap())
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn a_description_that_tells_everything_passes() {
    let (code, text, talk) = rig(GOOD, &["--count", "10"]);
    assert_eq!(code, Some(0), "{text}{talk}");
    for said in [
        "PASSED",
        "Simulated: no bolt was turned",
        "not a safety function",
        "Local codes and licensed practice decide",
        "Invented scenario",
        "crossed thread",
        "10 of 10",
    ] {
        assert!(text.contains(said), "{said} in {text}");
    }
    assert!(!text.contains("NOT PASSED"));
}

#[test]
fn a_window_narrower_than_the_uncertainty_is_told() {
    // The scale alone is known to ±2 % (k = 2), see `spindle.torque_u_percent`.
    let narrow = GOOD.replace(
        "target_torque_nm = 40.0",
        "target_torque_nm = 40.0\ntorque_tolerance_percent = 1.8",
    );
    let (code, text, _) = rig(&narrow, &["--count", "5", "--json"]);
    assert_eq!(code, Some(1));
    let rehearsal = json(&text);
    let sound = &rehearsal["passes"][0]["sound"];
    // A stop or scale that happens to be further off is seen to be outside.
    assert_eq!(sound["accepted"]["count"], 0);
    assert!(sound["not_assessable"]["count"].as_u64().unwrap() > 0);
    assert!(sound["window_over_u"].as_f64().unwrap() < 1.0);
    let said = conclusions(&rehearsal);
    assert!(said.contains("narrower than the uncertainty"), "{said}");
    assert!(said.contains("torque_tolerance_percent") && said.contains("spindle.torque_u_percent"));
}

#[test]
fn a_joint_that_friction_spreads_beyond_its_window_is_told() {
    // Friction of 0.08 takes the angle of 0.14 to 1.6 times (long form): far beyond ±3 of 60°.
    let tight = GOOD
        .replace("{ min = 0.12, max = 0.16 }", "{ min = 0.08, max = 0.20 }")
        .replace(
            "elastic_angle_deg = 60.0",
            "elastic_angle_deg = 60.0\nelastic_tolerance_deg = 3.0",
        );
    let (code, text, _) = rig(&tight, &["--count", "10", "--json"]);
    assert_eq!(code, Some(1));
    let said = conclusions(&json(&text));
    assert!(said.contains("run.elastic_tolerance_deg"), "{said}");
}

#[test]
fn a_run_that_nothing_judges_is_told_so() {
    let watch = GOOD
        .replace("target_torque_nm = 40.0\n", "")
        .replace("elastic_angle_deg = 60.0\n", "");
    let (code, text, _) = rig(&watch, &["--count", "2", "--json"]);
    assert_eq!(code, Some(1));
    assert!(
        conclusions(&json(&text)).contains("run.target_torque_nm"),
        "{text}"
    );
}

#[test]
fn every_pass_of_a_flange_is_rehearsed_once_for_all_its_bolts() {
    let (code, text, _) = rig(&example("flange.toml"), &["--count", "1", "--json"]);
    assert_eq!(code, Some(1));
    let rehearsal = json(&text);
    assert_eq!(rehearsal["schema_version"], 1);
    assert_eq!(rehearsal["invented"], true);
    assert!(
        rehearsal["simulated"]
            .as_str()
            .unwrap()
            .contains("Simulated")
    );
    assert!(
        rehearsal["caution"]
            .as_str()
            .unwrap()
            .contains("not a safety function")
    );
    assert!(rehearsal["pose_deg"].is_null());
    let passes = rehearsal["passes"].as_array().unwrap();
    let numbers: Vec<_> = passes.iter().map(|p| p["passes"].to_string()).collect();
    assert_eq!(numbers, ["[1]", "[2]", "[3]", "[4]", "[5]"]);
    let names = |pass: usize, list: &str| -> Vec<&str> {
        let faults = passes[pass][list].as_array().unwrap();
        faults
            .iter()
            .map(|f| f["fault"].as_str().unwrap())
            .collect()
    };
    // Undone, done up from loose, done up from a torque, checked.
    assert!(names(0, "faults").contains(&"seized") && !names(0, "faults").contains(&"strip"));
    assert!(names(1, "faults").contains(&"cross_thread"));
    assert!(names(2, "not_rehearsed").contains(&"cross_thread"));
    assert!(names(2, "faults").contains(&"strip"));
    assert!(names(4, "faults").contains(&"lost_torque"));
    // Without an arm nothing of an arm fails.
    assert!(names(1, "not_rehearsed").contains(&"contact_elsewhere"));
}

#[test]
fn passes_that_are_alike_are_one() {
    let twice = format!("{GOOD}[[pass]]\ngoal = \"torque\"\n[[pass]]\n[[pass]]\n");
    let (_, text, talk) = rig(&twice, &["--count", "1", "--json"]);
    let rehearsal = json(&text);
    let passes = rehearsal["passes"]
        .as_array()
        .unwrap_or_else(|| panic!("{talk}"));
    let numbers: Vec<_> = passes.iter().map(|p| p["passes"].to_string()).collect();
    assert_eq!(numbers, ["[1]", "[2,3]"]);
}

/// A short rundown: the physics of an arm takes its time.
fn short_bolt() -> String {
    example("bolt.toml")
        .replace("rundown_mm = 7.5", "# rundown_mm = 7.5")
        .replace("rundown_turns = 5.0", "rundown_turns = 1.2")
        .replace(
            "rundown_tolerance_turns = 0.5",
            "rundown_tolerance_turns = 0.25",
        )
}

#[test]
fn the_described_arm_turns_the_bolt_with_six_joints_or_seven_and_either_hand() {
    for (joints, hand) in [(7, "right"), (6, "left")] {
        let folder = tempfile::tempdir().unwrap();
        let text = short_bolt().replace("# hand = \"right\"", &format!("hand = \"{hand}\""));
        put(&folder, &text);
        if joints == 6 {
            let arm = folder.path().join("arm.urdf");
            let urdf = std::fs::read_to_string(&arm).unwrap();
            let third = "name=\"joint3\" type=\"revolute\"";
            let fixed = urdf.replace(third, "name=\"joint3\" type=\"fixed\"");
            std::fs::write(&arm, fixed).unwrap();
        }
        let (_, text, talk) = in_folder(folder.path(), &["--count", "1", "--json"]);
        let rehearsal: Value = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e} {talk}"));
        assert_eq!(rehearsal["pose_deg"].as_array().unwrap().len(), joints);
        let sound = &rehearsal["passes"][0]["sound"];
        assert_eq!(sound["accepted"]["count"], 1, "{joints} {hand} {sound}");
        assert_eq!(sound["observable"]["count"], 1);
    }
}

#[test]
fn an_arm_that_cannot_do_it_is_told_with_what_to_mend() {
    let far = short_bolt().replace("[0.55, 0.0, 0.30]", "[2.5, 0.0, 0.30]");
    let (code, out, talk) = rig(&far, &["--count", "1"]);
    assert_eq!((code, out.as_str()), (Some(3), ""));
    assert!(
        talk.contains("does not reach the bolt") && talk.contains("bolt_axis"),
        "{talk}"
    );
    let few = short_bolt().replace("tip_link = \"tool_flange\"", "tip_link = \"link5\"");
    let (code, _, talk) = rig(&few, &["--count", "1"]);
    assert_eq!(code, Some(3));
    assert!(
        talk.contains("has 5 joints") && talk.contains("6 or 7"),
        "{talk}"
    );
}

#[test]
fn wrong_use_and_wrong_descriptions_are_told() {
    for (arguments, code, said) in [
        (&["--count", "0"][..], 2, "0 is not in 1"),
        (&["--accept", "120"], 2, "0 to 100 percent"),
        (&["--allow", "many"], 2, "invalid"),
        (&["--html", "bolt.toml"], 2, "not written over"),
        (&["--html", "runs.csv"], 2, "recording"),
    ] {
        let (ended, _, talk) = rig(GOOD, arguments);
        assert_eq!(ended, Some(code), "{arguments:?} {talk}");
        assert!(talk.contains(said), "{arguments:?} {talk}");
    }
    let wrong = GOOD.replace("thread = \"M10\"", "thread = \"M0\"");
    let (code, _, talk) = rig(&wrong, &[]);
    assert_eq!(code, Some(3));
    assert!(talk.contains("bolt.thread"), "{talk}");
}

#[test]
fn a_seed_gives_the_same_bytes_and_another_other_bolts() {
    let run = |seed: &str| rig(GOOD, &["--count", "2", "--json", "--seed", seed]).1;
    let first = run("5");
    assert_eq!(first, run("5"));
    assert_ne!(
        json(&first)["passes"][0]["sound"]["torque_u_nm"],
        json(&run("6"))["passes"][0]["sound"]["torque_u_nm"]
    );
}

#[test]
fn runs_that_went_wrong_are_kept_and_can_be_replayed_and_the_page_stands_alone() {
    let folder = tempfile::tempdir().unwrap();
    let narrow = GOOD.replace(
        "target_torque_nm = 40.0",
        "target_torque_nm = 40.0\ntorque_tolerance_percent = 1.8",
    );
    put(&folder, &narrow);
    let asked = ["--count", "1", "--out", "runs", "--html", "rig.html"];
    let (code, _, talk) = in_folder(folder.path(), &asked);
    assert_eq!(code, Some(1), "{talk}");
    let csv = folder.path().join("runs/pass1-sound-0000.csv");
    assert!(csv.with_extension("truth.json").is_file());
    let replayed = tool()
        .current_dir(folder.path())
        .args(["replay", "--json", "--bolt", "bolt.toml"])
        .arg(&csv)
        .output()
        .unwrap();
    let report = json(&String::from_utf8(replayed.stdout).unwrap());
    assert_ne!(report["verdict"], "accepted");
    assert_eq!(report["run"], "pass1-sound-0000");
    let page = std::fs::read_to_string(folder.path().join("rig.html")).unwrap();
    for said in [
        "NOT PASSED",
        "Simulated",
        "Caution",
        "crossed thread",
        "Invented scenario",
    ] {
        assert!(page.contains(said), "{said}");
    }
    assert!(!page.contains("{{") && !page.contains("http:") && !page.contains("https:"));
}
