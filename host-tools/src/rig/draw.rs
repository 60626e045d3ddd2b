//! Sound bolts as the description leaves them open: drawn from what it states, else from the fastener's
//! forecast, else from what is usual.

use std::f64::consts::TAU;

use bolting_monitor::fastener::{Band, Locking as Feature};
use bolting_monitor::procedure::{BoltJob, Direction as Way, Goal, Mode as Turning};
use rand::Rng;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::site::Site;
use crate::description::Stated as Keys;
use crate::simulate::{
    Arm, Bolt, Direction, Locking, Mode, Return, Sampling, Scenario, Stated, Tool, Until,
    log_range, operator, spindle,
};

/// Turns to snug where nothing tells them (this rehearsal's own choice).
const UNTOLD_RUNDOWN: [f64; 2] = [2.0, 6.0];
/// Angle from snug to target where nothing tells it, degrees: hard to soft (ISO 5393).
const UNTOLD_ELASTIC_DEG: [f64; 2] = [30.0, 360.0];
/// How much stronger than its class guarantees a bolt may be (common practice, no source).
const STRONGER: f64 = 1.15;
/// Stress of a usual preload where no torque at all is told, MPa: half of the yield of class 8.8.
const USUAL_MPA: f32 = 320.0;
/// Angle beyond yield onset at which a hand that means to yield the bolt stops, degrees: until the slope
/// has clearly fallen (common practice, no source).
const PAST_YIELD_DEG: [f64; 2] = [15.0, 30.0];

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

fn within(band: [f64; 2], rng: &mut ChaCha8Rng) -> f64 {
    if band[0] < band[1] {
        rng.random_range(band[0]..band[1])
    } else {
        band[0]
    }
}

fn ends(band: Band) -> [f64; 2] {
    [f64::from(band.min), f64::from(band.max)]
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
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

    fn bolt(&self, target_nm: f64, rng: &mut ChaCha8Rng) -> Bolt {
        let fastener = &self.job.fastener;
        let thread = &fastener.thread;
        let geometry = fastener.torque_preload();
        // One lubricant for thread and head.
        let place: f64 = rng.random();
        let friction = fastener.friction.unwrap_or_default();
        let at = |band: Band| f64::from(band.min) + place * f64::from(band.max - band.min);
        let (in_thread, under_head) = (at(friction.thread), at(friction.head));
        let lever_mm = f64::from(geometry.lever_mm(in_thread as f32, under_head as f32));
        let middle_mm =
            f64::from(geometry.lever_mm(friction.thread.middle(), friction.head.middle()));
        let (diameter_mm, pitch_mm) = (f64::from(thread.diameter_mm), f64::from(thread.pitch_mm));
        let (rundown, _) = self.rundown_turns();
        let grain = rng.random_range(0.05..0.25);
        let mut bolt = Bolt {
            diameter_mm,
            pitch_mm,
            target_nm,
            // The one coefficient that takes as much torque as the two together on the simulator's ring.
            friction: (lever_mm - pitch_mm / TAU)
                / (0.577 * (diameter_mm - 0.6495 * pitch_mm) + 0.65 * diameter_mm),
            rundown_turns: if self.carries() {
                3.0
            } else {
                within(rundown, rng)
            },
            grain,
            grain_correlation_deg: log_range(5.0, 45.0, rng),
            clamp_grain: log_range(0.002, 0.03, rng),
            toe: rng.random_range(0.1..0.3),
            breakaway: rng.random_range(0.0..0.1),
            embedding: rng.random_range(0.02..0.12),
            left_hand: fastener.left_hand,
            ..Bolt::default()
        };
        self.running(&mut bolt, rng);
        let level = bolt.running_nm + bolt.locking.as_ref().map_or(0.0, |l| l.torque_nm);
        bolt.elastic_deg = self
            .elastic_deg(target_nm, level, [lever_mm, middle_mm], rng)
            .max(5.0);
        bolt.yield_nm = fastener.bolt.map(|material| {
            let stress = material.yield_mpa * within([1.0, STRONGER], rng) as f32;
            let torque = geometry.assembly_torque_nm(stress, in_thread as f32, under_head as f32);
            level + f64::from(torque)
        });
        if self.carries() {
            // As an earlier pass left it: its stop, less what the joint has embedded since.
            let given = self.job.carried_nm.map_or(target_nm, f64::from);
            let stop = 1.0 + (0.012 * normal(rng)).clamp(-0.03, 0.03);
            bolt.carried_nm = (given * stop * (1.0 - bolt.embedding)).max(1.05 * level);
        }
        bolt
    }

    /// What the thread takes before snug.
    fn running(&self, bolt: &mut Bolt, rng: &mut ChaCha8Rng) {
        let target = bolt.target_nm;
        let free = target * log_range(0.006, 0.02, rng);
        let band = self.job.fastener.prevailing_nm().map(ends);
        let locks = match self.job.fastener.locking {
            Some(Feature::Free) => false,
            Some(Feature::Standard { .. }) => true,
            // A band from nothing is that of a thread without a feature.
            Some(Feature::Stated(band)) => band.min > 0.0,
            // Nothing is said: one or the other.
            None => rng.random(),
        };
        let most = 1.0 + 2.5 * bolt.grain;
        match (locks, band) {
            (true, Some([min, max])) => {
                let grain = rng.random_range(0.03..0.10);
                let room = [min / (1.0 - 2.5 * grain), max / (1.0 + 2.5 * grain)];
                bolt.running_nm = free.min(0.1 * max);
                let level = within(room, rng).min(0.7 * target);
                let entry = 0.25 * bolt.rundown_turns;
                bolt.locking = Some(Locking {
                    torque_nm: (level - bolt.running_nm).max(0.01),
                    entry_turns: rng.random_range(0.1 * entry..entry),
                    rise_turns: (0.25 * bolt.rundown_turns).min(rng.random_range(0.25..0.75)),
                    grain,
                });
            }
            (_, Some([_, max]))
                if matches!(self.job.fastener.locking, Some(Feature::Stated(_))) =>
            {
                bolt.running_nm = within([0.2 * max, max / most], rng).min(0.5 * target);
            }
            _ => bolt.running_nm = free,
        }
    }

    /// Angle from snug to target, degrees: of the joint's own stiffness, else as stated for friction in
    /// the middle of its interval, else of its class.
    fn elastic_deg(
        &self,
        target_nm: f64,
        level_nm: f64,
        [lever_mm, middle_mm]: [f64; 2],
        rng: &mut ChaCha8Rng,
    ) -> f64 {
        let fastener = &self.job.fastener;
        let geometry = fastener.torque_preload();
        let compliance =
            (fastener.joint).and_then(|j| j.compliance_m_per_n(&geometry, fastener.bolt.as_ref()));
        if let Some(m_per_n) = compliance {
            let preload_n = 1e3 * (target_nm - level_nm).max(0.0) / lever_mm;
            let pitch_m = 1e-3 * f64::from(fastener.thread.pitch_mm);
            return preload_n * f64::from(m_per_n) / pitch_m * 360.0;
        }
        if let (Some(stated), true) = (self.job.elastic_rad, self.keys.has("run.elastic_angle_deg"))
        {
            return f64::from(stated.value.to_degrees()) * middle_mm / lever_mm;
        }
        let told = self.job.expected_run().elastic_rad;
        let [low, high] = told.map_or(UNTOLD_ELASTIC_DEG, |band| ends(band).map(f64::to_degrees));
        log_range(low.max(5.0), high.max(low.max(5.0) + 1.0), rng)
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
        let longest = self.site.map_or(150.0, |site| site.standing.stroke_deg);
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

    /// The socket lifted off, turned back and set down again.
    pub fn reseating(&self, rng: &mut ChaCha8Rng) -> Return {
        Return::LiftAndReseat {
            lift_mm: rng.random_range(10.0..15.0),
            seat_deg: if self.keys.has("tool.seat_angle_deg") {
                f64::from(self.job.tool.seat_rad.to_degrees())
            } else if rng.random() {
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
