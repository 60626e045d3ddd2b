//! Each goal, from samples to verdict: an invented M10 bolt on a powered spindle without an arm.

use std::f32::consts::TAU;

use bolting_monitor::detect::FindingKind;
use bolting_monitor::fastener::{Band, Fastener, Locking, Thread};
use bolting_monitor::monitor::Monitor;
use bolting_monitor::procedure::{
    BoltJob, Expected, Goal, Mode, Procedure, Reason, RunSummary, Sensing, Tare, Tool, Turn,
    Verdict,
};
use bolting_monitor::sample::{JointSample, SpindleReading};

const STEP_US: u64 = 1000;
/// Slope of the joint: 48 N·m in 60°.
const RATE_NM_PER_RAD: f32 = 46.0;
const RUNNING_NM: f32 = 0.4;
const SNUG_RAD: f32 = 2.0 * TAU;

fn job(goal: Goal) -> BoltJob {
    BoltJob {
        name: "invented bolt".try_into().expect("short"),
        fastener: Fastener {
            locking: Some(Locking::Stated(Band::new(0.0, 1.5))),
            ..Fastener::new(Thread::metric(10.0, 1.5))
        },
        goal,
        carried_nm: None,
        mode: Mode::PoweredSpindle,
        rundown_rad: Some(Expected {
            value: SNUG_RAD,
            tolerance: 1.0,
        }),
        elastic_rad: None,
        tool: Tool {
            axis: [0.0, 0.0, 1.0],
            windup_nm_per_rad: Some(5000.0),
            ratchet_tooth_rad: None,
            socket_play_rad: Some(0.02),
            seat_rad: TAU / 12.0,
            length_m: 0.0,
            side_moment_limit_nm: None,
        },
        bolt_axis: None,
        sensing: Sensing {
            spindle_angle_counts_driving: false,
            spindle_noise_nm: Some(0.05),
            spindle_scale_u: 0.005,
            spindle_zero_u_nm: 0.02,
            wrist_force_u_n: 1.0,
            wrist_moment_u_nm: 0.05,
            prior_force_n: 200.0,
            prior_moment_nm: None,
        },
        tare: Tare { duration_s: 0.1 },
    }
}

/// Plays a spindle that turns at 60°/s.
struct Spindle {
    monitor: Monitor<0>,
    time_us: u64,
    bolt_rad: f32,
    seed: u32,
}

impl Spindle {
    fn new(job: &BoltJob) -> Self {
        let mut spindle = Self {
            monitor: Monitor::try_new(job, None).expect("a sound job"),
            time_us: 0,
            bolt_rad: 0.0,
            seed: 1,
        };
        spindle.hold(0.0, 0.2);
        spindle
    }

    /// Uniform, of 0.05 N·m standard deviation.
    fn noise_nm(&mut self) -> f32 {
        self.seed = self
            .seed
            .wrapping_mul(1_664_525)
            .wrapping_add(1_013_904_223);
        ((self.seed >> 8) as f32 / (1 << 24) as f32 - 0.5) * 0.173
    }

    fn sample(&mut self, torque_nm: f32) {
        self.time_us += STEP_US;
        let wound_rad = torque_nm / 5000.0;
        let torque_nm = torque_nm + self.noise_nm();
        let mut sample = JointSample::<0>::new(self.time_us, [], []);
        sample.spindle = Some(SpindleReading {
            angle_rad: self.bolt_rad + wound_rad,
            torque_nm,
        });
        self.monitor.update(&sample);
    }

    fn hold(&mut self, torque_nm: f32, seconds: f32) {
        for _ in 0..(seconds * 1e6) as u64 / STEP_US {
            self.sample(torque_nm);
        }
    }

    /// Turns the bolt to an angle; `torque_nm` of the angle.
    fn turn_to(&mut self, to_rad: f32, torque_nm: impl Fn(f32) -> f32) {
        let step = 1.047e-3 * (to_rad - self.bolt_rad).signum();
        while (to_rad - self.bolt_rad) * step.signum() > 0.0 {
            self.bolt_rad += step;
            self.sample(torque_nm(self.bolt_rad));
        }
    }

    /// Raises the torque on a bolt that stands still.
    fn load_to(&mut self, torque_nm: f32) {
        for i in 0..=500 {
            self.sample(torque_nm * i as f32 / 500.0);
        }
    }

    fn summary(&self) -> RunSummary {
        self.monitor.summary()
    }
}

/// A sound joint.
fn sound_nm(angle_rad: f32) -> f32 {
    RUNNING_NM + RATE_NM_PER_RAD * (angle_rad - SNUG_RAD).max(0.0)
}

fn angle_of(torque_nm: f32) -> f32 {
    SNUG_RAD + (torque_nm - RUNNING_NM) / RATE_NM_PER_RAD
}

fn holds(summary: &RunSummary, verdict: Verdict, reason: Reason) {
    assert_eq!(summary.verdict, verdict, "{summary:?}");
    assert!(summary.reasons.contains(&reason), "{summary:?}");
}

#[test]
fn a_bolt_done_up_to_its_torque_is_accepted_and_one_short_of_it_is_not() {
    let goal = Goal::Torque {
        target_nm: 48.0,
        tolerance: 0.1,
    };
    for (end_nm, verdict, reason) in [
        (48.0, Verdict::Accepted, Reason::TorqueInWindow),
        (40.0, Verdict::Rejected, Reason::TorqueBelowWindow),
        (55.0, Verdict::Rejected, Reason::TorqueAboveWindow),
    ] {
        let mut spindle = Spindle::new(&job(goal));
        spindle.turn_to(angle_of(end_nm), sound_nm);
        holds(&spindle.summary(), verdict, reason);
    }
}

#[test]
fn only_the_end_of_a_run_tells_that_it_ended_too_low() {
    let goal = Goal::Torque {
        target_nm: 48.0,
        tolerance: 0.1,
    };
    let finish = |end_nm: f32| {
        let mut spindle = Spindle::new(&job(goal));
        spindle.turn_to(angle_of(end_nm), sound_nm);
        spindle.monitor.finish()
    };
    let low = finish(40.0).expect("ended below its window");
    assert_eq!(low.kind, FindingKind::UnderTorque);
    assert!(
        (low.value - 40.0).abs() < 0.3 && low.limit < 43.2,
        "{low:?}"
    );
    assert_eq!(finish(48.0), None);
    // Nothing was turned: there is no torque to judge.
    assert_eq!(Spindle::new(&job(goal)).monitor.finish(), None);
}

/// A saw tooth of ±10 % twice a degree: the torque is read from the lower envelope, and the swing,
/// wherever in it the truth lies, is its uncertainty (about its low end its width over √3; JCGM 100, 4.3.7,
/// has that over √12 about the middle).
#[test]
fn a_bolt_that_turns_in_jerks_is_summed_up_by_its_lower_envelope() {
    let goal = Goal::Torque {
        target_nm: 48.0,
        tolerance: 0.1,
    };
    let jerks = |angle_rad: f32| {
        let clamp_nm = sound_nm(angle_rad) - RUNNING_NM;
        RUNNING_NM + clamp_nm * (0.9 + 0.2 * (angle_rad.to_degrees() / 0.5).fract())
    };
    let end_nm = 46.0;
    let mut smooth = Spindle::new(&job(goal));
    smooth.turn_to(angle_of(end_nm), sound_nm);
    let mut jerky = Spindle::new(&job(goal));
    jerky.turn_to(angle_of(end_nm), jerks);
    let (smooth, jerky) = (smooth.summary(), jerky.summary());
    let low_nm = 0.9 * end_nm;
    assert!((smooth.final_torque_nm - end_nm).abs() < 0.5, "{smooth:?}");
    assert!(
        (jerky.final_torque_nm / low_nm - 1.0).abs() < 0.04,
        "{jerky:?}"
    );
    let swing_u_nm = 0.2 * end_nm / 3f32.sqrt();
    assert!(
        (jerky.final_torque_u_nm / swing_u_nm - 1.0).abs() < 0.2,
        "{jerky:?}"
    );
    assert!(jerky.final_torque_nm + 2.0 * jerky.final_torque_u_nm > 1.1 * end_nm);
    assert!(smooth.final_torque_u_nm < 0.3 * swing_u_nm, "{smooth:?}");
}

#[test]
fn a_further_angle_counts_from_where_the_start_torque_was_reached() {
    let goal = Goal::TorqueThenAngle {
        start_nm: 20.0,
        angle_rad: Expected {
            value: 0.6,
            tolerance: 0.06,
        },
        end_nm: Band::new(40.0, 60.0),
    };
    let start_rad = angle_of(20.0);
    for (further_rad, verdict, reason) in [
        (0.6, Verdict::Accepted, Reason::FurtherAngleInWindow),
        (0.5, Verdict::Rejected, Reason::FurtherAngleBelowWindow),
        (0.7, Verdict::Rejected, Reason::FurtherAngleAboveWindow),
    ] {
        let mut spindle = Spindle::new(&job(goal));
        spindle.turn_to(start_rad, sound_nm);
        // The tool stops at the start torque, lets go and takes hold again.
        spindle.hold(0.0, 0.3);
        spindle.load_to(20.0);
        spindle.turn_to(start_rad + further_rad, sound_nm);
        holds(&spindle.summary(), verdict, reason);
    }
}

#[test]
fn a_checked_bolt_that_stays_is_accepted_and_one_that_moves_is_not() {
    let mut job = job(Goal::Recheck {
        torque_nm: 48.0,
        most_rad: 0.05,
    });
    job.carried_nm = Some(48.0);
    let mut tight = Spindle::new(&job);
    tight.load_to(49.0);
    tight.hold(49.0, 0.1);
    holds(&tight.summary(), Verdict::Accepted, Reason::HeldStill);

    let mut short = Spindle::new(&job);
    short.load_to(30.0);
    holds(
        &short.summary(),
        Verdict::NotAssessable,
        Reason::CheckTorqueNotReached,
    );

    let mut loose = Spindle::new(&job);
    loose.load_to(30.0);
    loose.turn_to(0.35, |angle| 30.0 + RATE_NM_PER_RAD * angle);
    loose.turn_to(0.42, |angle| 30.0 + RATE_NM_PER_RAD * angle);
    holds(
        &loose.summary(),
        Verdict::Rejected,
        Reason::MovedBeforeTorque,
    );
}

#[test]
fn a_later_pass_begins_on_a_tight_bolt_without_a_finding() {
    let whole = job(Goal::Torque {
        target_nm: 48.0,
        tolerance: 0.1,
    });
    let mut procedure = Procedure::single(whole.goal);
    let whole_pass = procedure.passes[0];
    procedure.passes[0].part = 0.5;
    procedure.passes.push(whole_pass).expect("there is room");
    let second = procedure
        .job(&whole, Turn { pass: 1, bolt: 0 })
        .expect("there is a second pass");
    assert_eq!(second.carried_nm, Some(24.0));
    let mut spindle = Spindle::new(&second);
    spindle.load_to(24.0);
    spindle.turn_to(24.0 / RATE_NM_PER_RAD, |angle| {
        24.0 + RATE_NM_PER_RAD * angle
    });
    let summary = spindle.summary();
    holds(&summary, Verdict::Accepted, Reason::TorqueInWindow);
    assert!((summary.final_torque_nm - 48.0).abs() < 1.0, "{summary:?}");
}

#[test]
#[cfg_attr(not(feature = "undoing"), ignore = "this build has no undoing")]
fn an_undone_bolt_that_breaks_loose_where_it_may_is_accepted() {
    let goal = |run_out_rad| Goal::Loosen {
        recorded_nm: Some(48.0),
        breakaway_nm: Some(Band::new(25.0, 45.0)),
        run_out_rad,
    };
    let summary = undone(&job(goal(None)));
    holds(&summary, Verdict::Accepted, Reason::BreakawayInWindow);
    // A spindle alone cannot see the bolt come out: the stated turns are no witness of themselves.
    let summary = undone(&job(goal(Some(Expected {
        value: SNUG_RAD,
        tolerance: 2.0,
    }))));
    holds(&summary, Verdict::NotAssessable, Reason::ThreadNotFree);
}

/// Breaks loose at 35 N·m, runs out and is free.
fn undone(job: &BoltJob) -> RunSummary {
    let mut spindle = Spindle::new(job);
    for i in 0..500 {
        spindle.sample(-35.0 * i as f32 / 500.0);
    }
    let out = |angle: f32| {
        let turned = -angle;
        -(RUNNING_NM + (34.6 - RATE_NM_PER_RAD * 0.7 * turned).max(0.0))
            * if turned > SNUG_RAD { 0.02 } else { 1.0 }
    };
    spindle.turn_to(-SNUG_RAD - 2.0, out);
    spindle.summary()
}

/// Sound up to 30 N·m and a stop there, then with this part of the slope up to 48 N·m.
fn after_a_stop(part: f32) -> RunSummary {
    let mut spindle = Spindle::new(&job(Goal::Torque {
        target_nm: 48.0,
        tolerance: 0.1,
    }));
    let stop_rad = angle_of(30.0);
    let further_rad = 18.0 / (part * RATE_NM_PER_RAD);
    spindle.turn_to(stop_rad, sound_nm);
    spindle.hold(28.0, 0.5);
    spindle.turn_to(stop_rad + further_rad, |a| {
        30.0 + part * RATE_NM_PER_RAD * (a - stop_rad)
    });
    spindle.summary()
}

/// A slope of less than half after a stop may be that of a bolt that yields, or friction that the stop has
/// changed: no finding, and no clean acceptance.
#[test]
fn a_slope_like_that_of_a_yielding_bolt_leaves_the_verdict_open() {
    holds(
        &after_a_stop(0.8),
        Verdict::Accepted,
        Reason::TorqueInWindow,
    );
    holds(
        &after_a_stop(0.45),
        Verdict::NotAssessable,
        Reason::YieldInDoubt,
    );
}

/// A joint that gives while the tool holds it has lost the clamp force that the torque stood for; one that is
/// done up again has it back, and a wide window may still hold what is left.
#[test]
fn torque_that_is_lost_while_held_is_not_accepted() {
    let held = |tolerance: f32, left: f32, again: bool| {
        let mut spindle = Spindle::new(&job(Goal::Torque {
            target_nm: 48.0,
            tolerance,
        }));
        spindle.turn_to(angle_of(48.0), sound_nm);
        // The tool creeps on as it unwinds: the head follows by what the tool gives back.
        for i in 0..2000 {
            let lost = (1.0 - left) * (1.0 - (-(i as f32) / 300.0).exp());
            spindle.bolt_rad += 48.0 * (1.0 - left) * (-(i as f32) / 300.0).exp() / 300.0 / 5000.0;
            spindle.sample(48.0 * (1.0 - lost));
        }
        if again {
            let from_rad = spindle.bolt_rad;
            spindle.turn_to(from_rad + 0.15, |angle| {
                48.0 * left + (angle - from_rad) / 0.15 * 48.0 * (1.0 - left)
            });
        }
        spindle.summary()
    };
    let lost = held(0.1, 0.7, false);
    holds(&lost, Verdict::Rejected, Reason::TorqueLostWhileHeld);
    let settled = held(0.1, 0.93, false);
    holds(&settled, Verdict::Accepted, Reason::TorqueInWindow);
    let wide = held(0.35, 0.7, false);
    holds(&wide, Verdict::Accepted, Reason::TorqueInWindow);
    let again = held(0.1, 0.7, true);
    assert!(
        !again.reasons.contains(&Reason::TorqueLostWhileHeld),
        "{again:?}"
    );
}

/// A locking feature that is stated must be felt. Where the zero of the spindle is too unsure to tell a
/// dead one from one that works, the verdict stays open.
#[test]
fn a_locking_feature_that_may_be_dead_leaves_the_verdict_open() {
    let done_up = |least_nm: f32, zero_u_nm: f32| {
        let mut bolt = job(Goal::Torque {
            target_nm: 48.0,
            tolerance: 0.1,
        });
        bolt.fastener.locking = Some(Locking::Stated(Band::new(least_nm, 4.0)));
        bolt.sensing.spindle_zero_u_nm = zero_u_nm;
        let mut spindle = Spindle::new(&bolt);
        spindle.turn_to(angle_of(48.0), sound_nm);
        spindle.summary()
    };
    // It takes RUNNING_NM.
    let surely = done_up(0.6 * RUNNING_NM, 0.01);
    holds(&surely, Verdict::Accepted, Reason::TorqueInWindow);
    let unsure = done_up(0.6 * RUNNING_NM, 0.6 * RUNNING_NM);
    holds(
        &unsure,
        Verdict::NotAssessable,
        Reason::RunningTorqueInDoubt,
    );
    let by_a_little = done_up(1.2 * RUNNING_NM, 0.3 * RUNNING_NM);
    holds(
        &by_a_little,
        Verdict::NotAssessable,
        Reason::RunningTorqueInDoubt,
    );
}

/// Breaks loose where it may, then drags on at a third of that: more than its thread takes, less than for a
/// finding.
#[test]
#[cfg_attr(not(feature = "undoing"), ignore = "this build has no undoing")]
fn an_undone_bolt_that_drags_on_unseen_is_not_accepted() {
    let mut spindle = Spindle::new(&job(Goal::Loosen {
        recorded_nm: Some(48.0),
        breakaway_nm: Some(Band::new(25.0, 45.0)),
        run_out_rad: None,
    }));
    for i in 0..500 {
        spindle.sample(-35.0 * i as f32 / 500.0);
    }
    spindle.turn_to(-5.0, |angle| {
        -(2.9 + (32.0 - RATE_NM_PER_RAD * 0.7 * -angle).max(0.0))
    });
    holds(
        &spindle.summary(),
        Verdict::NotAssessable,
        Reason::RunOutInDoubt,
    );
}

/// Grain moves the torque about its line: at one moment it is known no better than that.
#[test]
fn the_final_torque_is_no_surer_than_its_curve_is_smooth() {
    let ended = |grain: f32, end_deg: f32| {
        let rough_nm = |a: f32| sound_nm(a) * (1.0 + grain * (a.to_degrees() * 2.1).sin());
        let mut spindle = Spindle::new(&job(Goal::Torque {
            target_nm: 48.0,
            tolerance: 0.1,
        }));
        let end_rad = angle_of(48.0) + end_deg.to_radians();
        spindle.turn_to(end_rad, rough_nm);
        let summary = spindle.summary();
        let error_nm = summary.final_torque_nm - rough_nm(spindle.bolt_rad);
        (error_nm, summary.final_torque_u_nm)
    };
    // 48 N·m of a scale known to half a percent.
    let (_, smooth_u_nm) = ended(0.0, 0.0);
    assert!((0.24..0.4).contains(&smooth_u_nm), "{smooth_u_nm}");
    // Grain of 3 % over 3°: 1 N·m of standard deviation.
    let (mut square, mut stated) = (0.0, 0.0);
    for i in 0..12 {
        let (error_nm, u_nm) = ended(0.03, 0.25 * i as f32);
        square += error_nm * error_nm;
        stated += u_nm * u_nm;
        assert!(u_nm > 0.7, "{u_nm}");
    }
    let ratio = (stated / square).sqrt();
    assert!((0.8..3.0).contains(&ratio), "{ratio}");
}
