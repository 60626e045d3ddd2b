//! A six-joint arm of an invented scenario that holds a wrench on a bolt: makes joint samples from
//! what the tool does. Statics only, by the crate's own pose (held to a reference elsewhere).
#![allow(dead_code, reason = "each test binary uses a part")]

use bolting_monitor::arm::{
    ArmDescription, ArmModel, Body, FRICTION_TRANSITION_RAD_S, JointDescription, JointFriction,
    Transform,
};
use bolting_monitor::fastener::{Band, Fastener, Locking, Thread};
use bolting_monitor::math::IDENTITY;
use bolting_monitor::monitor::{Monitor, Update};
use bolting_monitor::procedure::{
    AxisLine, BoltJob, Direction, Expected, Goal, Mode, Sensing, Tare, Tool,
};
use bolting_monitor::sample::{Context, JointSample};

pub const N: usize = 6;
pub type BoltMonitor = Monitor<N, 256>;
/// Noise of every joint torque, N·m.
pub const NOISE_NM: f32 = 0.02;
/// Torque at which a joint torque is clipped, N·m.
pub const RANGE_NM: f32 = 150.0;
const STEP_US: u64 = 1000;

pub fn arm() -> ArmDescription {
    let joint = |name: &str, axis: [f32; 3], x_m: f32, mass_kg: f32| JointDescription {
        name: name.try_into().expect("short"),
        origin: Transform {
            rotation: IDENTITY,
            translation_m: [x_m, 0.0, 0.0],
        },
        axis,
        link: Body {
            mass_kg,
            com_m: [0.1, 0.0, 0.0],
        },
        friction: JointFriction::NONE,
        torque_noise_nm: Some(NOISE_NM),
        torque_zero_u_nm: 0.02,
        torque_range_nm: Some(RANGE_NM),
    };
    let (x, y, z) = ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]);
    ArmDescription {
        joints: [
            joint("turntable", z, 0.0, 0.0),
            joint("shoulder", y, 0.0, 4.0),
            joint("elbow", y, 0.4, 3.0),
            joint("forearm", x, 0.3, 1.0),
            joint("wrist", y, 0.1, 1.0),
            joint("hand", x, 0.05, 0.3),
        ]
        .into_iter()
        .collect(),
        tip: Transform::IDENTITY,
        tool: Body {
            mass_kg: 1.2,
            com_m: [0.08, 0.02, 0.0],
        },
        payload: Body {
            mass_kg: 2.0,
            com_m: [0.05, 0.10, 0.05],
        },
        gravity_m_s2: [0.0, 0.0, -9.81],
        mass_u: 0.01,
        friction_transition_rad_s: FRICTION_TRANSITION_RAD_S,
    }
}

/// Upper arm up, forearm down, tool down.
pub const POSE_RAD: [f32; N] = [0.0, -0.6, 1.2, 0.0, core::f32::consts::FRAC_PI_2 - 0.6, 0.0];

pub fn job(direction: Direction) -> BoltJob {
    let model = ArmModel::<N>::try_new(&arm()).expect("sound arm");
    BoltJob {
        name: "invented bolt".try_into().expect("short"),
        fastener: Fastener {
            locking: Some(Locking::Stated(Band::new(0.0, 2.0))),
            ..Fastener::new(Thread::metric(10.0, 1.5))
        },
        goal: match direction {
            Direction::Tighten => Goal::Torque {
                target_nm: 30.0,
                tolerance: 0.1,
            },
            Direction::Undo => Goal::Loosen {
                recorded_nm: Some(30.0),
                breakaway_nm: None,
                run_out_rad: None,
            },
        },
        carried_nm: None,
        mode: Mode::WristStrokes,
        rundown_rad: Some(Expected {
            value: 9.4,
            tolerance: 1.6,
        }),
        elastic_rad: Some(Expected {
            value: 1.0,
            tolerance: 0.5,
        }),
        tool: Tool {
            axis: [1.0, 0.0, 0.0],
            windup_nm_per_rad: None,
            ratchet_tooth_rad: None,
            socket_play_rad: Some(0.02),
            seat_rad: core::f32::consts::FRAC_PI_6,
            length_m: 0.2,
            side_moment_limit_nm: None,
        },
        bolt_axis: Some(AxisLine {
            point_m: model.pose(&POSE_RAD, true, false).tip.translation_m,
            direction: [0.0, 0.0, -1.0],
        }),
        sensing: Sensing {
            spindle_angle_counts_driving: false,
            spindle_noise_nm: None,
            spindle_scale_u: 0.01,
            spindle_zero_u_nm: 0.0,
            wrist_force_u_n: 1.0,
            wrist_moment_u_nm: 0.05,
            prior_force_n: 200.0,
            prior_moment_nm: None,
        },
        tare: Tare { duration_s: 0.3 },
    }
}

/// The job of a spindle alone, told nothing of the run but its goal.
pub fn spindle_job(goal: Goal) -> BoltJob {
    let mut job = job(Direction::Tighten);
    job.goal = goal;
    job.mode = Mode::PoweredSpindle;
    job.tare.duration_s = 0.0;
    job.tool.socket_play_rad = None;
    job.tool.windup_nm_per_rad = None;
    job.sensing.spindle_noise_nm = Some(0.05);
    (job.rundown_rad, job.elastic_rad) = (None, None);
    job
}

/// Plays samples into a monitor.
#[derive(Clone)]
pub struct Rig {
    pub monitor: BoltMonitor,
    model: ArmModel<N>,
    seed: u64,
    pub time_us: u64,
    pub position_rad: [f32; N],
    /// Switches as the sample states them.
    pub context: Context,
    /// Whether tool and payload truly hang on the gripper.
    pub carried: (bool, bool),
    /// Zero error of each joint torque, N·m.
    pub zero_nm: [f32; N],
    /// Force that the tip exerts, N, base frame.
    pub force_n: [f32; 3],
    /// A joint whose reading stands still at a figure.
    pub stuck: Option<(usize, f32)>,
    pub updates: Vec<Update>,
}

impl Rig {
    /// A rig whose arm has been tared at rest.
    pub fn tared(job: &BoltJob) -> Self {
        Self::tared_at(job, POSE_RAD)
    }

    /// The same with the arm elsewhere than on the bolt.
    pub fn tared_at(job: &BoltJob, position_rad: [f32; N]) -> Self {
        let mut rig = Self {
            position_rad,
            ..Self::untared(job)
        };
        for _ in 0..400 {
            rig.step(0.0);
        }
        rig
    }

    /// One that has not been read yet.
    pub fn untared(job: &BoltJob) -> Self {
        Self {
            monitor: BoltMonitor::try_new(job, Some(&arm())).expect("sound descriptions"),
            model: ArmModel::try_new(&arm()).expect("sound arm"),
            seed: 1,
            time_us: 1_000_000,
            position_rad: POSE_RAD,
            context: Context::new(),
            carried: (true, false),
            zero_nm: [0.0; N],
            force_n: [0.0; 3],
            stuck: None,
            updates: Vec::new(),
        }
    }

    /// Other noise from here on.
    pub fn reseed(&mut self, seed: u64) {
        self.seed = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }

    /// Gaussian enough: the sum of twelve uniform numbers.
    fn normal(&mut self) -> f32 {
        (0..12)
            .map(|_| {
                self.seed = self
                    .seed
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                (self.seed >> 40) as f32 / (1u64 << 24) as f32
            })
            .sum::<f32>()
            - 6.0
    }

    pub fn sample(&mut self, bolt_nm: f32) -> JointSample<N> {
        let (tool, payload) = self.carried;
        let pose = self.model.pose(&self.position_rad, tool, payload);
        let [fx, fy, fz] = self.force_n;
        // Moment about the bolt axis, which points down.
        let wrench = [fx, fy, fz, 0.0, 0.0, -bolt_nm];
        let mut torque_nm = [0.0; N];
        for (i, torque) in torque_nm.iter_mut().enumerate() {
            let load: f32 = pose.jacobian[i]
                .iter()
                .zip(&wrench)
                .map(|(j, w)| j * w)
                .sum();
            *torque = pose.gravity_nm[i] + load + self.zero_nm[i] + NOISE_NM * self.normal();
            *torque = torque.clamp(-RANGE_NM, RANGE_NM);
        }
        if let Some((joint, at_nm)) = self.stuck {
            torque_nm[joint] = at_nm;
        }
        JointSample {
            context: self.context,
            ..JointSample::new(self.time_us, self.position_rad, torque_nm)
        }
    }

    /// One sample with the tool exerting `bolt_nm` about the bolt axis.
    pub fn step(&mut self, bolt_nm: f32) -> Update {
        self.time_us += STEP_US;
        let sample = self.sample(bolt_nm);
        let update = self.monitor.update(&sample);
        self.updates.push(update);
        update
    }

    /// Turns the hand by `by_deg` at 60°/s; `torque_nm` of the travel so far in degrees.
    pub fn turn(&mut self, by_deg: f32, torque_nm: impl Fn(f32) -> f32) -> Update {
        let n = (by_deg.abs() / 0.06).round() as usize;
        let from = self.position_rad[N - 1];
        let mut last = None;
        for i in 1..=n {
            let travel = by_deg * i as f32 / n as f32;
            self.position_rad[N - 1] = from + travel.to_radians();
            last = Some(self.step(torque_nm(travel)));
        }
        last.expect("some travel")
    }

    pub fn rest(&mut self, seconds: f32, bolt_nm: f32) -> Update {
        (0..(seconds * 1e6) as u64 / STEP_US)
            .map(|_| self.step(bolt_nm))
            .last()
            .expect("some time")
    }

    /// Every finding so far, by name, in order.
    pub fn findings(&self) -> Vec<&'static str> {
        self.updates
            .iter()
            .filter_map(|u| u.finding)
            .map(|f| f.kind.name())
            .collect()
    }
}
