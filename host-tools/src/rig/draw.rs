//! Sound bolts as the description leaves them open: drawn from what it states, else from the fastener's
//! forecast, else from what is usual.

use std::f64::consts::TAU;

use bolting_monitor::fastener::Band;
use bolting_monitor::procedure::{BoltJob, Direction as Way, Goal, Mode as Turning};
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::site::Site;
use crate::description::Stated as Keys;
use crate::simulate::{
    Arm, Bolt, Direction, Mode, Return, Sampling, Scenario, Stated, Tool, Until, log_range,
    operator, spindle,
};

/// Turns to snug where nothing tells them (this rehearsal's own choice).
const UNTOLD_RUNDOWN: [f64; 2] = [2.0, 6.0];
/// Stress of a usual preload where no torque at all is told, MPa: half of the yield of class 8.8.
const USUAL_MPA: f32 = 320.0;
/// Angle beyond yield onset at which a hand that means to yield the bolt stops, degrees: the slope has
/// then fallen to a third to a sixth of the elastic one on the simulator's knee.
const PAST_YIELD_DEG: [f64; 2] = [25.0, 45.0];

/// What is drawn for.
#[derive(Clone, Copy)]
pub struct Rehearsed<'a> {
    /// The bolt in one pass.
    pub job: &'a BoltJob,
    /// What the file states.
    pub keys: &'a Keys,
    /// The arm at the bolt, if there is one.
    pub site: Option<&'a Site>,
    /// Samples a second.
    pub rate_hz: f64,
}

pub(super) fn within(band: [f64; 2], rng: &mut ChaCha8Rng) -> f64 {
    if band[0] < band[1] {
        rng.random_range(band[0]..band[1])
    } else {
        band[0]
    }
}

/// About the middle of a window that was set three standard deviations wide (common practice, no
/// source), never beyond it.
pub(super) fn spread([low, high]: [f64; 2], rng: &mut ChaCha8Rng) -> f64 {
    let middle = 0.5 * (low + high);
    let half = 0.5 * (high - low);
    (middle + half * normal(rng) / 3.0).clamp(low, high.max(low))
}

pub(super) fn ends(band: Band) -> [f64; 2] {
    [f64::from(band.min), f64::from(band.max)]
}

pub(super) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    rng.sample(StandardNormal)
}

impl Rehearsed<'_> {
    /// Torque by which the run is measured, N·m, and whether the description tells it.
    pub fn scale_nm(&self) -> (f64, bool) {
        let told = self.job.goal.scale_nm().or(self.job.carried_nm);
        let usual = || {
            let fastener = &self.job.fastener;
            let preload_n = USUAL_MPA * fastener.thread.stress_area_mm2();
            let band = (fastener.torque_preload())
                .torque_nm(preload_n, &fastener.friction.unwrap_or_default());
            0.5 * (band.min + band.max)
        };
        (f64::from(told.unwrap_or_else(usual)), told.is_some())
    }

    /// Whether the bolt is clamped when the run begins.
    pub fn carries(&self) -> bool {
        let checked = matches!(self.job.goal, Goal::Recheck { .. });
        let up = self.job.goal.direction() == Way::Tighten;
        up && (checked || self.job.carried_nm.is_some())
    }

    /// Turns to snug, or of an undone bolt to its last thread, and whether the description tells them.
    pub fn rundown_turns(&self) -> ([f64; 2], bool) {
        let turns = |rad: Band| ends(rad).map(|x| (x / TAU).max(0.5));
        let told = match self.job.goal {
            Goal::Loosen {
                run_out_rad: Some(stated),
                ..
            } => Some(turns(stated.band())),
            _ if self.job.goal.direction() == Way::Undo => {
                let out = self.job.forecast().run_out_turns;
                out.map(|turns| [f64::from(turns); 2])
            }
            _ => {
                let run = self.job.expected_run();
                (run.earliest_snug_rad.zip(run.latest_snug_rad))
                    .map(|(first, last)| turns(Band::new(first, last)))
            }
        };
        (told.unwrap_or(UNTOLD_RUNDOWN), told.is_some())
    }

    /// A sound bolt.
    pub fn draw(&self, rng: &mut ChaCha8Rng) -> Scenario {
        let job = self.job;
        let (target_nm, _) = self.scale_nm();
        let undone = job.goal.direction() == Way::Undo;
        let mut s = Scenario {
            direction: if undone {
                Direction::Undo
            } else {
                Direction::Tighten
            },
            operator: operator(rng),
            arm: self
                .site
                .map_or_else(Arm::default, |site| site.dirt.clone()),
            sampling: Sampling {
                rate_hz: self.rate_hz,
                jitter_s: log_range(1e-5, 1.5e-4, rng).min(0.1 / self.rate_hz),
                gaps_per_s: log_range(0.05, 3.0, rng),
                ..Sampling::default()
            },
            seed: u64::from(rng.random::<u32>()),
            ..Scenario::default()
        };
        s.operator.free_s = f64::from(job.tare.duration_s).max(0.5) + rng.random_range(0.05..0.5);
        s.bolt = self.bolt(target_nm, rng);
        if undone {
            // The stated turns reach from tight to the last thread.
            let elastic = s.bolt.elastic_deg / 360.0;
            s.bolt.rundown_turns = (s.bolt.rundown_turns - elastic).max(0.5);
        }
        s.until = self.until(&mut s.bolt, rng);
        s.mode = self.mode(&s.bolt, undone, rng);
        s.tool = self.tool(&s.mode, rng);
        s.stated = self.stated(&s);
        s
    }

    /// What ends the run, and the bolt so that the joint can end there.
    fn until(&self, bolt: &mut Bolt, rng: &mut ChaCha8Rng) -> Until {
        match self.job.goal {
            Goal::TorqueThenAngle {
                start_nm,
                angle_rad,
                end_nm,
            } => {
                let start_nm = f64::from(start_nm);
                let angle_deg = f64::from(angle_rad.value.to_degrees());
                if self.job.elastic_rad.is_none() && self.job.fastener.joint.is_none() {
                    // Nothing but the band tells the joint.
                    let end = within(ends(end_nm), rng).max(1.05 * start_nm);
                    let level =
                        bolt.running_nm + bolt.locking.as_ref().map_or(0.0, |l| l.torque_nm);
                    bolt.elastic_deg = (bolt.target_nm - level) * angle_deg / (end - start_nm);
                }
                Until::FurtherAngle {
                    start_nm,
                    angle_deg,
                }
            }
            Goal::Yield { onset_nm, .. } => {
                if bolt.yield_nm.is_none() {
                    bolt.yield_nm = Some(within(ends(onset_nm), rng));
                }
                Until::Yield {
                    past_deg: within(PAST_YIELD_DEG, rng),
                }
            }
            _ => Until::Torque,
        }
    }

    fn mode(&self, bolt: &Bolt, undone: bool, rng: &mut ChaCha8Rng) -> Mode {
        let sensing = &self.job.sensing;
        if self.job.mode == Turning::PoweredSpindle {
            let mut mode = spindle(rng);
            if let Mode::PoweredSpindle {
                steps,
                torque_noise_nm,
                torque_scale_error,
                ..
            } = &mut mode
            {
                *torque_noise_nm = sensing.spindle_noise_nm.map_or(0.05, f64::from);
                *torque_scale_error = f64::from(sensing.spindle_scale_u) * normal(rng);
                if undone {
                    steps.truncate(1);
                    steps[0].until_fraction = 1.0;
                    steps[0].rpm = log_range(5.0, 60.0, rng);
                }
            }
            return mode;
        }
        let whole_arm = self.site.is_some_and(|site| !site.machine.wrist_turns);
        let longest = self.longest_deg();
        let tool = &self.job.tool;
        let back = match tool.ratchet_tooth_rad {
            // A ratchet would turn a bolt back whose last thread is about to leave.
            Some(tooth) if !undone => Return::Ratchet {
                tooth_deg: f64::from(tooth.to_degrees()),
                drag_nm: bolt.running_nm * rng.random_range(0.15..0.45),
            },
            _ => self.reseating(rng),
        };
        let seat_deg = match &back {
            Return::LiftAndReseat { seat_deg, .. } => *seat_deg,
            Return::Ratchet { .. } => 0.0,
        };
        let stroke_deg = if whole_arm {
            longest
        } else {
            within(
                [(1.2 * seat_deg).max(0.4 * longest).min(longest), longest],
                rng,
            )
        };
        let speed = if whole_arm {
            20.0
        } else {
            log_range(12.0, 90.0, rng)
        };
        Mode::WristStrokes {
            stroke_deg,
            back,
            speed_deg_s: speed,
            clamp_speed_deg_s: speed * rng.random_range(0.2..0.7),
            return_speed_deg_s: if whole_arm {
                15.0
            } else {
                rng.random_range(35.0..78.0)
            },
        }
    }

    /// Longest stroke that the arm has room for, degrees.
    fn longest_deg(&self) -> f64 {
        self.site.map_or(150.0, |site| site.standing.stroke_deg)
    }

    /// The socket lifted off, turned back and set down again.
    pub fn reseating(&self, rng: &mut ChaCha8Rng) -> Return {
        Return::LiftAndReseat {
            lift_mm: rng.random_range(10.0..15.0),
            seat_deg: if self.keys.has("tool.seat_angle_deg") {
                f64::from(self.job.tool.seat_rad.to_degrees())
            } else if self.longest_deg() > 72.0 && rng.random() {
                60.0
            } else {
                30.0
            },
        }
    }

    fn tool(&self, mode: &Mode, rng: &mut ChaCha8Rng) -> Tool {
        let tool = &self.job.tool;
        let windup =
            (tool.windup_nm_per_rad).map_or_else(|| log_range(1500.0, 8000.0, rng), f64::from);
        let play = (tool.socket_play_rad).map_or_else(
            || rng.random_range(0.5..4.0),
            |rad| f64::from(rad.to_degrees()),
        );
        let spun = matches!(mode, Mode::PoweredSpindle { .. });
        Tool {
            windup_nm_per_rad: windup * (1.0 + 0.1 * normal(rng)).max(0.6),
            play_deg: (play + rng.random_range(-0.5..0.5)).max(0.3),
            // With another arm it only says that the last joint is not the one that turns.
            angle_head: !spun && self.site.is_some_and(|site| !site.machine.wrist_turns),
            misalignment_deg: rng.random_range(0.0..1.0),
            ..Tool::default()
        }
    }

    /// The description's windows, as the simulator's faults look at them.
    fn stated(&self, s: &Scenario) -> Stated {
        let run = self.job.expected_run();
        let (turns, _) = self.rundown_turns();
        let elastic = run.elastic_rad.map(|band| ends(band).map(f64::to_degrees));
        let [low, high] = elastic.unwrap_or([s.bolt.elastic_deg; 2]);
        Stated {
            rundown_turns: 0.5 * (turns[0] + turns[1]),
            rundown_tolerance_turns: 0.5 * (turns[1] - turns[0]),
            elastic_deg: 0.5 * (low + high),
            elastic_tolerance_deg: 0.5 * (high - low),
            prevailing_nm: [f64::from(run.floor_nm), f64::from(run.ceiling_nm)],
            windup_nm_per_rad: s.tool.windup_nm_per_rad,
            play_deg: s.tool.play_deg,
            torque_tolerance_percent: 100.0 * self.tolerance(),
        }
    }

    /// Half width of the torque window as a part of the target.
    pub fn tolerance(&self) -> f64 {
        let (target, _) = self.scale_nm();
        (self.job.goal.end_nm()).map_or(0.1, |band| 0.5 * f64::from(band.max - band.min) / target)
    }
}
