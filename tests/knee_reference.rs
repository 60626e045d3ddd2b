//! Snug angles of noisy two-segment curves against two general libraries, `pwlf` and `ruptures`; see
//! `tests/reference/knees.py`, which makes the very same samples.

use bolting_monitor::fastener::{Band, Fastener, Locking, Thread};
use bolting_monitor::monitor::Monitor;
use bolting_monitor::procedure::{BoltJob, Expected, Goal, Mode, Sensing, Snug, Tare, Tool};
use bolting_monitor::sample::{JointSample, SpindleReading};

const STEP_DEG: f64 = 0.06;

struct Case {
    seed: u32,
    running_nm: f64,
    target_nm: f64,
    knee_deg: f64,
    elastic_deg: f64,
    noise_nm: f64,
    pwlf_deg: f64,
    ruptures_deg: f64,
}

impl Case {
    fn read(line: &str) -> Self {
        let v: Vec<f64> = line
            .split(',')
            .map(|v| v.parse().expect("a number"))
            .collect();
        Self {
            seed: v[0] as u32,
            running_nm: v[1],
            target_nm: v[2],
            knee_deg: v[3],
            elastic_deg: v[4],
            noise_nm: v[5],
            pwlf_deg: v[6],
            ruptures_deg: v[7],
        }
    }

    fn job(&self) -> BoltJob {
        BoltJob {
            name: "curve".try_into().expect("short"),
            fastener: Fastener {
                locking: Some(Locking::Stated(Band::new(0.0, 2.0))),
                ..Fastener::new(Thread::metric(10.0, 1.5))
            },
            goal: Goal::Torque {
                target_nm: self.target_nm as f32,
                tolerance: 0.1,
            },
            carried_nm: None,
            mode: Mode::PoweredSpindle,
            rundown_rad: None,
            elastic_rad: Some(Expected {
                value: self.elastic_deg.to_radians() as f32,
                tolerance: 0.5 * self.elastic_deg.to_radians() as f32,
            }),
            tool: Tool {
                axis: [0.0, 0.0, 1.0],
                windup_nm_per_rad: None,
                ratchet_tooth_rad: None,
                socket_play_rad: Some(0.0),
                seat_rad: core::f32::consts::FRAC_PI_6,
                length_m: 0.0,
                side_moment_limit_nm: None,
            },
            bolt_axis: None,
            sensing: Sensing {
                spindle_angle_counts_driving: false,
                spindle_noise_nm: Some(self.noise_nm as f32),
                spindle_scale_u: 0.0,
                spindle_zero_u_nm: 0.0,
                wrist_force_u_n: 1.0,
                wrist_moment_u_nm: 0.05,
                prior_force_n: 200.0,
                prior_moment_nm: None,
            },
            tare: Tare { duration_s: 0.0 },
        }
    }

    fn snug(&self) -> Snug {
        let mut monitor = Monitor::<0>::try_new(&self.job(), None).expect("a sound job");
        let rate = (self.target_nm - self.running_nm) / self.elastic_deg;
        let count = ((self.knee_deg + self.elastic_deg) / STEP_DEG).round() as u64;
        let mut state = self.seed;
        for i in 1..=count {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let uniform = f64::from(state >> 8) / f64::from(1 << 24) - 0.5;
            let angle_deg = STEP_DEG * i as f64;
            let torque_nm = self.running_nm
                + rate * (angle_deg - self.knee_deg).max(0.0)
                + uniform * self.noise_nm * 12f64.sqrt();
            let mut sample = JointSample::<0>::new(1000 * i, [], []);
            sample.spindle = Some(SpindleReading {
                angle_rad: angle_deg.to_radians() as f32,
                torque_nm: torque_nm as f32,
            });
            monitor.update(&sample);
        }
        monitor.snug_point().expect("a snug point")
    }
}

#[test]
fn snug_angles_are_those_of_general_libraries() {
    let cases: Vec<Case> = include_str!("reference/knees.csv")
        .lines()
        .skip(1)
        .map(Case::read)
        .collect();
    let (mut worst_deg, mut beyond) = (0.0_f64, 0);
    for case in &cases {
        let snug = case.snug();
        let found_deg = f64::from(snug.angle_rad).to_degrees();
        let u_deg = f64::from(snug.angle_u_rad).to_degrees();
        let off_deg = found_deg - case.pwlf_deg;
        println!(
            "seed {}: {found_deg:.2} ± {u_deg:.2}°, pwlf {:.2}°, ruptures {:.2}°",
            case.seed, case.pwlf_deg, case.ruptures_deg
        );
        worst_deg = worst_deg.max(off_deg.abs());
        // The change point search knows only whole degrees.
        assert!((case.pwlf_deg - case.ruptures_deg).abs() <= 1.0);
        beyond += usize::from(off_deg.abs() > 2.0 * u_deg + 0.1);
    }
    println!("worst difference from pwlf {worst_deg:.2}°");
    assert_eq!(cases.len(), 12);
    // Whole angle steps are 0.5°.
    assert!(worst_deg < 1.0, "{worst_deg}");
    // Of twelve, one may lie outside its 95 % interval.
    assert!(beyond <= 1, "{beyond} outside their stated interval");
}
