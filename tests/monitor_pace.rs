//! What a sample costs is spread over the samples that follow: nothing may be lost by it, nor said
//! otherwise.

mod rig;

use bolting_monitor::arm::ArmModel;
use bolting_monitor::math::sqrt;
use bolting_monitor::monitor::Monitor;
use bolting_monitor::procedure::{Direction, Mode};
use bolting_monitor::sample::{JointSample, SpindleReading};
use bolting_monitor::wrench::{
    ArmLoad, ArmReading, AxialTorque, InertiaTracker, JointSight, JointWrench, MomentAxis,
    SensorHealth,
};

use rig::{N, POSE_RAD, arm, job};

/// Findings of a spindle that turns `step_deg` with every sample: 540° of rundown at 1 N·m, then to
/// 45 N·m within 57°, where the target is 30 N·m. With each the bolt angle, degrees.
fn played(step_deg: f32) -> Vec<(&'static str, f32)> {
    let mut job = job(Direction::Tighten);
    job.mode = Mode::PoweredSpindle;
    job.sensing.spindle_noise_nm = Some(0.02);
    job.tare.duration_s = 0.0;
    let mut monitor = Monitor::<0, 256>::try_new(&job, None).expect("sound descriptions");
    let mut said = Vec::new();
    for i in 0..(597.0 / step_deg) as u32 {
        let deg = step_deg * i as f32;
        let sample = JointSample {
            spindle: Some(SpindleReading {
                angle_rad: deg.to_radians(),
                torque_nm: 1.0 + 44.0 / 57.0 * (deg - 540.0).max(0.0),
            }),
            ..JointSample::new(1000 * u64::from(i), [], [])
        };
        let update = monitor.update(&sample);
        if update.snug_seen {
            said.push(("snug", deg));
        }
        said.extend(update.finding.map(|f| (f.kind.name(), deg)));
    }
    said
}

/// Steps that close one after the other, with no sample between them for the judges, come to what
/// steps come to that leave all of them their time.
#[test]
fn a_fast_spindle_is_judged_as_a_slow_one() {
    let slow = played(0.05);
    assert!(
        slow.iter().any(|(name, _)| *name == "over_torque"),
        "{slow:?}"
    );
    for step_deg in [0.3, 0.5, 0.9] {
        let fast = played(step_deg);
        let names = |said: &[(&'static str, f32)]| said.iter().map(|(n, _)| *n).collect::<Vec<_>>();
        assert_eq!(names(&fast), names(&slow), "{step_deg}° a sample");
        for ((name, fast), (_, slow)) in fast.iter().zip(&slow) {
            // A step is half a degree or one sample; three samples for the judges.
            assert!(
                (fast - slow).abs() < 0.5 + 4.0 * step_deg,
                "{name}: {fast} for {slow}"
            );
        }
    }
}

/// The moment, with a part of the weights taken anew with every so manieth sample (all of them where
/// none is said), while the hand turns at 1 rad/s and levers with 40 N that come within 50 ms.
fn moments(every: Option<usize>) -> Vec<AxialTorque> {
    let job = job(Direction::Tighten);
    let model = ArmModel::<N>::try_new(&arm()).expect("sound arm");
    let line = job.bolt_axis.expect("stated");
    let axis = MomentAxis {
        point_m: line.point_m,
        direction: line.direction,
    };
    let new = || JointWrench::new(&model, &job.sensing, 90.0, 6.0);
    let mut wrench = new();
    let mut sights = [JointSight::default(); N];
    let health = SensorHealth::new([None; N]);
    let still = InertiaTracker::default().update(&[0.0; N], 1e-3);
    let mut all = Vec::new();
    for i in 0..600 {
        let t = 1e-3 * i as f32;
        let mut position = POSE_RAD;
        position[N - 1] += t;
        // The arm as a whole gives way, too.
        position[1] += 0.5 * t;
        let pose = model.pose(&position, true, false);
        let force_n = 40.0 * (t / 0.05).min(1.0);
        let w = [force_n, 0.5 * force_n, 0.0, 0.0, 0.0, -20.0];
        let load = |row: &[f32; 6]| row.iter().zip(&w).map(|(j, w)| j * w).sum::<f32>();
        let torque_nm = core::array::from_fn(|i| pose.gravity_nm[i] + load(&pose.jacobian[i]));
        let friction = model.friction(&[0.0; N]);
        let reading = ArmReading {
            pose: &pose,
            torque_nm: &torque_nm,
            friction: &friction,
            inertia: &still,
            health: &health,
            wrist: None,
            samples: 1,
        };
        if every.is_none() {
            wrench = new();
        }
        wrench.look(&reading, &mut sights);
        let load = ArmLoad {
            pose: &pose,
            sights: &sights,
            wrist: None,
            samples: 1,
        };
        let mut estimate = |renew| wrench.estimate(&model, &load, &axis, None, renew);
        let estimate = match every {
            // In turn with two others.
            Some(every) => estimate(i % every == 0 && i / every % 6 < 4),
            None => {
                for _ in 0..3 {
                    estimate(true);
                }
                estimate(true)
            }
        };
        // Before, only the prior is known.
        if i > 20 {
            all.push(estimate.axial);
        }
    }
    all
}

#[test]
fn weights_that_stand_tell_the_moment_of_fresh_ones_and_their_own_uncertainty() {
    let fresh = moments(None);
    for every in [1, 2] {
        let mut worst = 0.0_f32;
        for (stood, fresh) in moments(Some(every)).iter().zip(&fresh) {
            let added = stood.u_nm() * stood.u_nm() - fresh.u_nm() * fresh.u_nm();
            let off = (stood.value_nm - fresh.value_nm).abs();
            worst = worst.max(off);
            // What the weights cost is stated, and the best weights state the least.
            assert!(added > -1e-4 * fresh.u_nm(), "{stood:?} {fresh:?}");
            assert!(
                off < 2.0 * sqrt(added.max(0.0)) + 0.01,
                "{stood:?} {fresh:?}"
            );
            assert!(
                stood.u_nm() < fresh.u_nm() + 0.005 * every as f32 * 20.0,
                "{stood:?} {fresh:?}"
            );
        }
        // Of 20 N·m and 45 N across; without what is carried along, it would be 0.008 N·m where nothing
        // is put off.
        assert!(worst < 0.004, "{worst}");
    }
}
