//! What the C and C++ examples say of a run, against a replay of the same recording in process: the
//! same figures, bit for bit. `make run` in `examples/c` makes the files that are read here.

use std::path::{Path, PathBuf};

use bolting_host::description::Description;
use bolting_host::replay::{Outcome, replay};
use bolting_host::samples::{BadRows, Recording};
use bolting_host::words::reason_name;
use bolting_monitor::detect::Finding;

fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/c/target")
}

/// Lines without their decimals, which are for people: of `name=1.500:3fc00000` the bits are left.
fn figures(text: &str) -> Vec<String> {
    let bits = |word: &str| match (word.split_once('='), word.rsplit_once(':')) {
        (Some((name, _)), Some((_, bits))) => format!("{name}={bits}"),
        _ => word.to_owned(),
    };
    text.lines()
        .map(|line| line.split(' ').map(bits).collect::<Vec<_>>().join(" "))
        .collect()
}

fn pairs(figures: &[(&str, f32)]) -> String {
    let pair = |(name, figure): &(&str, f32)| format!(" {name}={:08x}", figure.to_bits());
    figures.iter().map(pair).collect()
}

fn finding(f: &Finding) -> String {
    format!(
        "finding kind={} stops={} time_us={}{}",
        f.kind.name(),
        u8::from(f.stops()),
        f.time_us,
        pairs(&[
            ("angle_rad", f.angle_rad),
            ("torque_nm", f.torque_nm),
            ("torque_u_nm", f.torque_u_nm),
            ("slope_nm_per_rad", f.slope_nm_per_rad),
            ("value", f.value),
            ("limit", f.limit),
        ])
    )
}

/// All points of the curve as one word: FNV-1a, 32 bits.
fn curve(outcome: &Outcome) -> String {
    let figures = outcome
        .curve
        .iter()
        .flat_map(|p| [p.angle_rad, p.torque_nm, p.torque_u_nm]);
    let digest = figures
        .flat_map(f32::to_le_bytes)
        .fold(2_166_136_261_u32, |digest, byte| {
            (digest ^ u32::from(byte)).wrapping_mul(16_777_619)
        });
    format!("curve points={} digest={digest}", outcome.curve.len())
}

fn summary(outcome: &Outcome) -> String {
    let s = &outcome.summary;
    let reasons: Vec<_> = s.reasons.iter().map(|r| reason_name(*r)).collect();
    let snug = s.snug.map_or(String::new(), |snug| {
        pairs(&[
            ("snug_angle_rad", snug.angle_rad),
            ("snug_torque_nm", snug.torque_nm),
        ])
    });
    format!(
        "summary verdict={} reasons={}{}{snug} samples={} gaps={} unusable={}",
        s.verdict.name(),
        reasons.join(","),
        pairs(&[
            ("final_torque_nm", s.final_torque_nm),
            ("final_torque_u_nm", s.final_torque_u_nm),
            ("final_angle_rad", s.final_angle_rad),
            ("final_angle_u_rad", s.final_angle_u_rad),
        ]),
        s.samples,
        s.gaps,
        s.unusable_samples
    )
}

#[test]
fn c_on_host_and_controller_says_what_a_replay_says() {
    let examples = examples();
    if !examples.join("controller.txt").is_file()
        && std::env::var_os("CI").is_none_or(|ci| ci != "true")
    {
        println!("SKIPPED: run `make run` in examples/c first");
        return;
    }
    let description = Description::load(&examples.join("run-0001.toml")).expect("a description");
    let recording =
        Recording::load(&examples.join("run-0001.csv"), BadRows::Refuse).expect("a recording");
    let outcome = replay(&description, None, &recording)
        .expect("a run")
        .outcome;
    let mut expected: Vec<_> = outcome.findings.iter().map(finding).collect();
    assert!(!expected.is_empty(), "the scenario strips a thread");
    expected.extend([curve(&outcome), summary(&outcome)]);
    for said in ["host.txt", "cpp.txt", "controller.txt"] {
        let text = std::fs::read_to_string(examples.join(said)).expect(said);
        assert_eq!(figures(&text), expected, "{said}");
    }
}
