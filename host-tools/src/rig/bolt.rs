//! The bolt itself: friction, rundown, what the thread takes, how fast the joint rises, where it yields.

use std::f64::consts::TAU;

use bolting_monitor::fastener::{Band, Locking as Feature};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::draw::{Rehearsed, ends, normal, spread, within};
use crate::simulate::{Bolt, Locking, log_range};

/// Angle from snug to target where nothing tells it, degrees: hard to soft (ISO 5393).
const UNTOLD_ELASTIC_DEG: [f64; 2] = [30.0, 360.0];
/// How much stronger than its class guarantees a bolt may be (common practice, no source).
const STRONGER: f64 = 1.15;
impl Rehearsed<'_> {
    /// A sound bolt that is to get this torque, N·m.
    pub(super) fn bolt(&self, target_nm: f64, rng: &mut ChaCha8Rng) -> Bolt {
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
                spread(rundown, rng)
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
}
