//! scratch
use bolting_host::{description::Description, simulate};
use bolting_monitor::{monitor::Monitor, sample::*};
use std::path::Path;
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let seed: u64 = a[1].parse().unwrap();
    let i: usize = a[2].parse().unwrap();
    let dir = Path::new("/tmp/probe");
    let s = simulate::campaign(seed, i);
    eprintln!("{s:#?}");
    let r = simulate::simulate(&s);
    simulate::write_run(dir, "t", &s, &r).unwrap();
    let d = Description::load(&dir.join("t.toml")).unwrap();
    let mut m = Box::new(Monitor::<7>::try_new(&d.job, d.arm.as_ref()).unwrap());
    println!("t,T,Tt,ang,angt,tool,level,turning,u,dq7");
    for (k, r7) in r.rows.iter().enumerate() {
        let u = m.update(&JointSample::<7> {
            time_us: (r7.time_s * 1e6).round() as u64,
            position_rad: r7.q.map(|x| x as f32),
            velocity_rad_s: Some(r7.dq.map(|x| x as f32)),
            torque_nm: r7.tau.map(|x| x as f32),
            wrist: None,
            spindle: r7.spindle.map(|[a, t]| SpindleReading {
                angle_rad: a as f32,
                torque_nm: t as f32,
            }),
            context: Context::new(),
        });
        let t = &r.truth;
        println!(
            "{:.4},{:.4},{:.4},{:.3},{:.3},{:.3},{:.3},{},{:.3},{:.4}",
            r7.time_s,
            u.torque_nm,
            t.bolt_torque_nm[k],
            u.angle_rad.to_degrees(),
            t.bolt_angle_rad[k].to_degrees(),
            t.tool_angle_rad[k].to_degrees(),
            0.0,
            u.turning as u8,
            u.torque_u_nm,
            r7.dq[6]
        );
    }
}
