//! scratch
use bolting_host::campaign::{Report, run_all};
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let r = run_all(
        a[1].parse().unwrap(),
        a[2].parse().unwrap()..a[3].parse().unwrap(),
    )
    .unwrap();
    let rep = Report::new(&r);
    if a.len() > 4 {
        for x in rep.worth_a_look() {
            println!(
                "{} {} {} tgt {:.1} Terr {:+.2}% u {:.2}% fl {:.2}% ang {:+.2} snug {:?} u {:?} missed {} stop {:?} onset {:?} peak {:.0} {} {} {:?}",
                x.index,
                if x.spindle { "spin" } else { "wrist" },
                x.fault,
                x.target_nm,
                100.0 * x.torque_part(),
                100.0 * x.torque_u_nm / x.target_nm,
                100.0 * x.floor_nm / x.target_nm,
                x.angle_error_deg,
                x.snug_error_deg.map(|v| (v * 10.0).round() / 10.0),
                x.snug_u_deg.map(|v| (v * 10.0).round() / 10.0),
                x.snug_missed,
                x.stop
                    .as_ref()
                    .map(|s| format!("{} {:.0}° {:.2}", s.kind, s.at_deg, s.torque_part)),
                x.onset_deg.map(|v| v.round()),
                x.peak_deg,
                x.verdict,
                x.reasons,
                x.others
            );
        }
    }
    print!("{rep}");
}
