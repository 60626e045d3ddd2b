//! scratch
use bolting_host::{description::Description, replay, simulate};
use bolting_monitor::sample::*;
use std::path::Path;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let seed: u64 = a[1].parse().unwrap();
    let (from, to): (usize, usize) = (a[2].parse().unwrap(), a[3].parse().unwrap());
    let dir = Path::new("/tmp/probe");
    for i in from..to {
        let s = simulate::campaign(seed, i);
        let r = simulate::simulate(&s);
        simulate::write_run(dir, "x", &s, &r).unwrap();
        let d = Description::load(&dir.join("x.toml")).unwrap();
        let it = r.rows.iter().map(|r| JointSample::<7> {
            time_us: (r.time_s * 1e6).round() as u64,
            position_rad: r.q.map(|x| x as f32),
            velocity_rad_s: Some(r.dq.map(|x| x as f32)),
            torque_nm: r.tau.map(|x| x as f32),
            wrist: None,
            spindle: r.spindle.map(|[a, t]| SpindleReading {
                angle_rad: a as f32,
                torque_nm: t as f32,
            }),
            context: Context::new(),
        });
        let o = replay::run::<7>(&d, None, it).unwrap();
        let t = &r.truth;
        let tgt = s.bolt.target_nm;
        let sm = &o.summary;
        let dg = |x: f32| (x as f64).to_degrees();
        println!(
            "{i} {} {} tgt {tgt:.1} | T err {:+.2}% u {:.2}% floor {:.2}% turn {:.2}% sp {:.2}% | ang err {:+.2}° u {:.2} of {:.0} | snug {} u {:.2} | {} {:?} | {}",
            match s.mode {
                simulate::Mode::PoweredSpindle { .. } => "spin",
                _ => "wrist",
            },
            t.fault,
            (sm.final_torque_nm as f64 - t.final_torque_nm) / tgt * 100.0,
            sm.final_torque_u_nm as f64 / tgt * 100.0,
            t.torque_floor_nm / tgt * 100.0,
            t.torque_floor_turning_nm / tgt * 100.0,
            t.spindle_floor_nm.unwrap_or(0.0) / tgt * 100.0,
            dg(sm.final_angle_rad) - t.final_angle_rad.to_degrees(),
            dg(sm.final_angle_u_rad),
            t.final_angle_rad.to_degrees(),
            match (sm.snug, t.snug_angle_rad) {
                (Some(a), Some(b)) => format!("err {:+.2}°", dg(a.angle_rad) - b.to_degrees()),
                (None, Some(_)) => "MISSED".into(),
                (Some(_), None) => "extra".into(),
                _ => "none".into(),
            },
            sm.snug.map_or(0.0, |s| dg(s.angle_u_rad)),
            sm.verdict.name(),
            sm.reasons,
            o.findings
                .iter()
                .map(|f| format!(
                    "{} at {:.1}° (onset {:.1} peak {:.1}) {:.2}Nm u{:.2} adv {:?}",
                    f.kind.name(),
                    dg(f.angle_rad),
                    t.onset_angle_rad.unwrap_or(f64::NAN).to_degrees(),
                    t.peak_angle_rad.to_degrees(),
                    f.torque_nm,
                    f.torque_u_nm,
                    f.advance_ratio
                ))
                .collect::<Vec<_>>()
                .join("; ")
        );
    }
}
