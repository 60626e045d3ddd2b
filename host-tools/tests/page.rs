//! The page: what it must say, and what it must never do.

use std::path::Path;

use bolting_host::description::Description;
use bolting_host::page::{
    Estimate, PageContext, PageFinding, PagePoint, PageRun, Target, render, svg,
};
use bolting_host::replay::{CurvePoint, Outcome};
use bolting_monitor::detect::{Finding, FindingKind, Quantity};
use bolting_monitor::procedure::{Reason, RunSummary, Verdict};

const HOSTILE: &str = "</script><img src=x onerror=\"alert('1')\">{{data}}&amp;";

fn point(angle_deg: f64, torque_nm: f64) -> PagePoint {
    PagePoint {
        angle_deg,
        torque_nm: Some(Estimate {
            value: torque_nm,
            u: 0.5,
        }),
    }
}

fn run(name: &str) -> PageRun {
    PageRun {
        name: name.to_owned(),
        about: Vec::new(),
        wanting: Vec::new(),
        missing: Vec::new(),
        summed_up: true,
        described: true,
        verdict: Verdict::Accepted,
        reasons: vec![Reason::TorqueInWindow],
        final_torque_nm: Some(Estimate {
            value: 48.25,
            u: 0.5,
        }),
        no_torque: "not observable",
        final_angle_deg: Estimate {
            value: 1860.0,
            u: 0.5,
        },
        snug_angle_deg: Some(Estimate {
            value: 1800.0,
            u: 1.0,
        }),
        snug_torque_nm: 0.8,
        target: Some(Target {
            torque_nm: 48.0,
            half_width_nm: 4.8,
        }),
        snug_window_deg: Some([1620.0, 1980.0]),
        prevailing_nm: Some([0.0, 1.2]),
        findings: vec![],
        curve: vec![point(0.0, 0.8), point(1800.0, 0.8), point(1860.0, 48.25)],
        samples: 60_000,
        gaps: 0,
        unusable_samples: 0,
        invented: true,
    }
}

fn stripped(name: &str) -> PageRun {
    PageRun {
        verdict: Verdict::Rejected,
        reasons: vec![Reason::FindingStands, Reason::TorqueBelowWindow],
        findings: vec![PageFinding {
            label: "stripping".to_owned(),
            stops: true,
            angle_deg: 1850.0,
            torque_nm: Some(34.0),
            evidence: "At 1850.0°: torque fell 2.30 N·m.".to_owned(),
            advice: "usual next step: look".to_owned(),
        }],
        ..run(name)
    }
}

fn page(runs: &[PageRun]) -> String {
    let context = PageContext {
        software_version: "0.1.0".to_owned(),
        generated_at: "a fixed day".to_owned(),
        how_samples_ran: "in this process".to_owned(),
        notes: vec!["2 rows were left out".to_owned()],
        sign_off: false,
    };
    render("Bolts", runs, &context)
}

/// What a reader without scripts sees, and the data block.
fn body_and_data(page: &str) -> (&str, serde_json::Value) {
    let (body, rest) = page
        .split_once("<script type=\"application/json\" id=\"data\">")
        .expect("a data block");
    let (data, _) = rest.split_once("</script>").expect("its end");
    (body, serde_json::from_str(data).expect("JSON"))
}

#[test]
fn nothing_on_the_page_asks_a_network() {
    let page = page(&[run("a"), stripped("b")]);
    for way_out in [
        "http:",
        "https:",
        "//cdn",
        "fetch(",
        "XMLHttp",
        "import(",
        "@import",
        "url(",
        "WebSocket",
        " src=",
        " href=",
        "sendBeacon",
    ] {
        assert!(!page.contains(way_out), "{way_out}");
    }
    assert!(page.contains("http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'"));
    let picture = svg(&run("a")).replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
    assert!(!picture.contains("http") && !picture.contains("href"));
}

#[test]
fn hostile_words_stay_words() {
    let mut hostile = stripped(HOSTILE);
    hostile.findings[0].label = HOSTILE.to_owned();
    hostile.findings[0].evidence = HOSTILE.to_owned();
    hostile.about = vec![HOSTILE.to_owned()];
    hostile.missing = vec![HOSTILE.to_owned()];
    let context = PageContext {
        software_version: HOSTILE.to_owned(),
        generated_at: HOSTILE.to_owned(),
        how_samples_ran: HOSTILE.to_owned(),
        notes: vec![HOSTILE.to_owned()],
        sign_off: true,
    };
    let page = render(HOSTILE, &[hostile.clone()], &context);
    assert!(!page.contains("<img"));
    assert_eq!(page.matches("</script>").count(), 2, "data and program");
    let (_, data) = body_and_data(&page);
    assert_eq!(data["runs"][0]["name"], HOSTILE);
    assert_eq!(data["runs"][0]["findings"][0]["label"], HOSTILE);
    assert!(!svg(&hostile).contains("<img"));
}

#[test]
fn every_place_of_the_template_is_filled() {
    assert!(!page(&[run("a")]).contains("{{"));
}

#[test]
fn every_run_and_alarm_stands_as_text() {
    let runs: Vec<PageRun> = (0..200)
        .map(|i| match i % 10 {
            3 => stripped(&format!("bolt {i:03}")),
            _ => run(&format!("bolt {i:03}")),
        })
        .collect();
    let page = page(&runs);
    let (body, data) = body_and_data(&page);
    let (_, table) = body.split_once("<tbody>").expect("a table");
    for r in &runs {
        assert_eq!(table.matches(&r.name).count(), 1, "{}", r.name);
    }
    assert_eq!(table.matches("<tr").count(), 200);
    assert_eq!(
        table.matches("At 1850.0°: torque fell 2.30 N·m.").count(),
        20
    );
    assert_eq!(table.matches("<b>stripping, stops</b>").count(), 20);
    assert!(table.contains("48.25 ± 1.00"), "expanded, k = 2");
    assert!(table.contains("1800.0 ± 2.0"));
    assert!(body.contains("2 rows were left out") && body.contains("not a safety function"));
    assert_eq!(data["runs"].as_array().map(Vec::len), Some(200));
}

#[test]
fn an_invented_run_is_marked_beside_its_figures() {
    let real = PageRun {
        invented: false,
        ..run("bolt")
    };
    assert!(!page(std::slice::from_ref(&real)).contains("class=\"invented\">I"));
    assert!(page(&[run("bolt")]).contains("Invented scenario, simulated data"));
    let mixed = page(&[real.clone(), run("bolt")]);
    assert!(mixed.contains("Some runs are simulated in an invented scenario; each is marked so"));
    assert_eq!(
        mixed.matches("<small>invented, simulated</small>").count(),
        1
    );
}

#[test]
fn what_nobody_described_is_not_said_to_be_marked() {
    let untold = PageRun {
        invented: false,
        described: false,
        ..run("bolt")
    };
    let page = page(&[untold, run("bolt")]);
    assert!(page.contains("runs without a description may be invented too"));
    assert!(!page.contains("each is marked so"));
}

#[test]
fn a_run_that_was_never_summed_up_has_no_figures_of_its_end() {
    let untold = PageRun {
        summed_up: false,
        final_torque_nm: None,
        no_torque: "not told",
        snug_angle_deg: None,
        samples: 0,
        ..run("bolt")
    };
    let page = page(&[untold]);
    let (_, row) = page.split_once("<tr class=\"ok\">").expect("a row");
    let (row, _) = row.split_once("</tr>").expect("its end");
    // Torque, angle, snug and samples.
    assert_eq!(row.matches("<td>not told</td>").count(), 4, "{row}");
}

#[test]
fn sentences_of_the_table_begin_as_sentences_and_have_one_minus() {
    let mut stripped = stripped("bolt");
    stripped.findings[0].advice = "most likely a thread shearing".to_owned();
    stripped.wanting = vec!["state the play".to_owned()];
    let page = page(&[stripped]);
    assert!(
        page.contains("<b>stripping, stops</b>. At 1850.0°: torque fell 2.30 N·m. Most likely")
    );
    assert!(page.contains("<p>State the play.</p>"));
}

#[test]
fn a_torque_that_was_not_observable_is_never_a_number() {
    let untold = PageRun {
        verdict: Verdict::NotAssessable,
        reasons: vec![Reason::TorqueNotObservable],
        final_torque_nm: None,
        target: None,
        curve: vec![
            point(0.0, 1.0),
            PagePoint {
                angle_deg: 1.0,
                torque_nm: None,
            },
            point(2.0, 3.0),
        ],
        ..run("bolt")
    };
    let page = page(&[untold]);
    let (body, data) = body_and_data(&page);
    assert!(body.contains("<td>not observable</td>"));
    assert!(!body.contains("N·m</span>"), "no figure in the small plot");
    // Steps of 0.01, each less the last that was told.
    assert_eq!(
        data["runs"][0]["torque"],
        serde_json::json!([100, null, 200])
    );
    assert_eq!(data["runs"][0]["angle"], serde_json::json!([0, 100, 100]));
}

#[test]
fn figures_that_are_none_leave_a_gap() {
    let (nan, infinite) = (f64::NAN, f64::INFINITY);
    let broken = PageRun {
        final_torque_nm: Some(Estimate { value: nan, u: nan }),
        final_angle_deg: Estimate {
            value: infinite,
            u: nan,
        },
        snug_angle_deg: Some(Estimate { value: nan, u: 1.0 }),
        curve: vec![
            point(nan, 1.0),
            point(0.0, nan),
            point(1.0, infinite),
            point(2.0, 2.0),
        ],
        ..run("broken")
    };
    let empty = PageRun {
        curve: vec![],
        ..run("empty")
    };
    for runs in [&[broken.clone(), empty.clone()][..], &[]] {
        let page = page(runs);
        let (body, data) = body_and_data(&page);
        assert!(!body.contains("NaN") && !body.contains("inf"));
        assert_eq!(data["runs"].as_array().map(Vec::len), Some(runs.len()));
    }
    let page = page(&[broken.clone(), empty.clone()]);
    let (_, data) = body_and_data(&page);
    assert_eq!(
        data["runs"][0]["torque"],
        serde_json::json!([null, null, 200])
    );
    assert_eq!(data["runs"][1]["torque"], serde_json::json!([]));
    for picture in [svg(&broken), svg(&empty)] {
        assert!(
            !picture.contains("NaN") && !picture.contains("inf"),
            "{picture}"
        );
    }
}

#[test]
fn the_same_runs_give_the_same_bytes() {
    let runs = [run("a"), stripped("b")];
    assert_eq!(page(&runs), page(&runs));
    assert_eq!(svg(&runs[1]), svg(&runs[1]));
}

#[test]
fn the_picture_keeps_a_peak_that_is_one_point_wide() {
    let mut spiked = run("spike");
    spiked.target = None;
    spiked.curve = (0..100_000)
        .map(|i| point(f64::from(i) * 0.01, if i == 41_234 { 90.0 } else { 1.0 }))
        .collect();
    let picture = svg(&spiked);
    assert!(picture.len() < 100_000, "thinned");
    // The curve is the path with the most points.
    let curve = picture
        .split("<path d=\"")
        .filter_map(|rest| rest.split_once('"'))
        .map(|(path, _)| -> Vec<f64> {
            path.split('L')
                .filter_map(|place| place.rsplit(' ').next()?.parse().ok())
                .collect()
        })
        .max_by_key(Vec::len)
        .expect("paths");
    let [top, bottom] = [f64::min, f64::max]
        .map(|pick: fn(f64, f64) -> f64| curve.iter().copied().reduce(pick).expect("points"));
    // 1 to 90 N·m on a scale from 0 to 94.5 N·m of 300 units.
    assert!(
        ((bottom - top) - 89.0 / 94.5 * 300.0).abs() < 0.2,
        "{top} to {bottom}"
    );
}

fn finding(kind: FindingKind, torque_u_nm: f32) -> Finding {
    Finding {
        kind,
        time_us: 2_000_000,
        angle_rad: std::f32::consts::PI,
        torque_nm: 20.0,
        torque_u_nm,
        slope_nm_per_rad: -18.0,
        slope_u_nm_per_rad: 0.9,
        advance_ratio: Some((0.5, 0.01)),
        quantity: match kind {
            FindingKind::Strip => Quantity::DropNm,
            _ => Quantity::UncertaintyNm,
        },
        value: 12.0,
        limit: 9.6,
        place: None,
        likely: None,
        runner_up: None,
    }
}

#[test]
fn an_outcome_becomes_degrees_and_sentences() {
    let text = "schema = 1\nname = \"bolt\"\n[bolt]\nthread = \"M10\"\n[run]\nmode = \"powered_spindle\"\n\
                target_torque_nm = 48.0\nrundown_turns = 5.0\nrundown_tolerance_turns = 0.5\n";
    let job = Description::parse(text, Path::new("bolt.toml"))
        .expect("a sound description")
        .job;
    let sample = |torque_u_nm| CurvePoint {
        time_s: 1.0,
        angle_rad: std::f32::consts::PI,
        torque_nm: 20.0,
        torque_u_nm,
        observable: true,
    };
    let mut outcome = Outcome {
        observable: Some(true),
        summary: RunSummary {
            verdict: Verdict::Rejected,
            reasons: heapless::Vec::from_slice(&[Reason::FindingStands]).expect("room"),
            final_torque_nm: 20.0,
            final_torque_u_nm: 0.25,
            final_angle_rad: std::f32::consts::PI,
            final_angle_u_rad: 0.0,
            snug: None,
            samples: 2,
            gaps: 0,
            unusable_samples: 0,
        },
        findings: vec![finding(FindingKind::Strip, 0.25)],
        start_us: 0,
        curve: vec![sample(0.25), sample(12.0)],
    };
    let run = PageRun::new("bolt", Some(&job), &outcome, false);
    assert_eq!(
        run.snug_window_deg.map(|w| w.map(f64::round)),
        Some([1620.0, 1980.0])
    );
    assert!((run.target.expect("a target").half_width_nm - 4.8).abs() < 1e-5);
    assert_eq!(
        run.findings[0].evidence,
        "At 180.0°: the torque fell while the bolt turned on: it fell by 12.00 N·m, limit 9.60 N·m; \
         torque 20.00 ± 0.50 N·m; slope −18.00 ± 1.80 N·m/rad; \
         axial advance 0.50 ± 0.02 of the pitch per turn."
    );
    assert!(run.findings[0].stops && run.curve.iter().all(|p| p.torque_nm.is_some()));

    // With the limit known, what is beyond it is no figure.
    outcome
        .findings
        .push(finding(FindingKind::TorqueNotObservable, 12.0));
    let run = PageRun::new("bolt", Some(&job), &outcome, false);
    assert!(run.curve[0].torque_nm.is_some() && run.curve[1].torque_nm.is_none());
    assert_eq!(run.findings[1].torque_nm, None);
    let reasons = &mut outcome.summary.reasons;
    reasons.push(Reason::TorqueNotObservable).expect("room");
    let run = PageRun::new("bolt", Some(&job), &outcome, false);
    assert_eq!(run.final_torque_nm, None);
    // A bolt that never turned has none either, whatever the summary holds.
    outcome.summary.reasons.clear();
    outcome.findings.clear();
    outcome.observable = None;
    let run = PageRun::new("bolt", Some(&job), &outcome, false);
    assert_eq!((run.final_torque_nm, run.no_torque), (None, "did not turn"));
}
