//! What happens next: the way of a block of samples down the street, in four stages.
//!
//! Samples that come faster than the bolt does anything are [gathered](crate::gather) into blocks. While
//! the next block gathers, the last one walks the street, a stage with each sample, so that no sample bears
//! it all: at 4 kHz a block has four samples and they bear one stage each. Where a block is one sample, up
//! to 1.5 kHz, that sample bears all four. A block that is closed before the last has walked to the end
//! waits for nothing: what was left of the last is done at once, at most three stages.
//!
//! | stage | does | needs of the block |
//! |---|---|---|
//! | [`Stage::Explain`] | pose, gravity, friction, inertia, health of sensors | the samples' mean |
//! | [`Stage::Weigh`] | torque, twist, advance | pose and unexplained torques |
//! | [`Stage::Turn`] | bolt angle, strokes; the last step before its next judges | the reading |
//! | [`Stage::Tell`] | curve, what looks at every block, phase, and the update | reading and motion |

use crate::detect::{SampleView, SnugChange};
use crate::gather::Block;
use crate::phase::PhaseView;
use crate::procedure::{Direction, Figure};
use crate::sample::JointSample;
use crate::turn::{Effort, Motion, Pause};
use crate::wrench::AxialTorque;

use super::Monitor;
use super::judging::Judged;
use super::source::Reading;
use super::turns::Load;

/// Number of stages.
const STAGES: u8 = 4;

/// A stage of a block's way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stage {
    /// Pose, gravity, friction, inertia and health of the sensors, of the next block: none is on its way.
    Explain,
    /// Torque, twist and advance.
    Weigh,
    /// Bolt angle and strokes; then the next of those who judge the last step that was closed.
    Turn,
    /// Curve, what looks at every sample, and phase; with it the update tells of the block.
    Tell,
}

/// The block that is on its way.
#[derive(Clone, Debug)]
pub(super) struct Walk {
    due: Stage,
    /// Stages that a sample bears.
    at_once: u8,
    /// Mean time of the block, µs, and since the block before, s.
    time_us: u64,
    dt_s: f32,
    /// Time without a sample after which samples were stale when it began, s.
    stale_after_s: f32,
    reading: Reading,
    /// Tool angle of the last block that came to its second stage, rad.
    tool_rad: f32,
    /// Of the last block whose torque may be the bolt's.
    effort: Effort,
    motion: Motion,
    judged: Judged,
}

impl Walk {
    /// Before the first block.
    pub const NONE: Self = Self {
        due: Stage::Explain,
        at_once: STAGES,
        time_us: 0,
        dt_s: 0.0,
        stale_after_s: 0.0,
        reading: Reading::NOTHING,
        tool_rad: 0.0,
        effort: Effort::NONE,
        motion: Motion::STANDING,
        judged: Judged::NOTHING,
    };
}

impl<const N: usize, const B: usize> Monitor<N, B> {
    /// The stage that is due next: who measures what an update costs asks before it what it will bear.
    pub const fn due(&self) -> Stage {
        self.walk.due
    }

    /// Takes a sample into the block that gathers; says whether that set off with it.
    pub(super) fn take_in(&mut self, sample: &JointSample<N>, stale_after_s: f32) -> bool {
        if self.gather.is_empty() {
            self.stale_after_s = stale_after_s;
            let size = self.clock.block_size();
            if size <= 1 {
                self.set_off(Some(sample));
                return true;
            }
            self.gather.begin(sample, size);
        } else {
            self.gather.add(sample);
        }
        self.source.note(sample);
        let ends = self.gather.is_full();
        if ends {
            self.set_off(None);
        }
        ends
    }

    /// Sends a sample that is a block of itself, or else the gathered block, on its way, and the block
    /// before to the end of its own.
    pub(super) fn set_off(&mut self, alone: Option<&JointSample<N>>) {
        while self.walk.due != Stage::Explain {
            self.next_stage();
        }
        let (block, size) = match alone {
            Some(sample) => (Block::of_one(sample), 1),
            None => {
                let size = self.gather.size();
                (self.gather.take(), size)
            }
        };
        let at_once = STAGES.div_ceil(size.max(1));
        let load = match self.unasked {
            // Who judges a step has a sample of their own then.
            _ if at_once < STAGES => Load::None,
            Some(group) => group.load(),
            None if self.steps.is_nearly_full() => Load::Some,
            None => Load::None,
        };
        let time_us = block.mean.time_us;
        let (since_start_s, dt_s) = self.clock.step(time_us);
        let walk = &mut self.walk;
        (walk.due, walk.at_once) = (Stage::Weigh, at_once);
        (walk.time_us, walk.dt_s) = (time_us, dt_s);
        walk.stale_after_s = self.stale_after_s;
        walk.reading = self.source.explain(&block, since_start_s, dt_s, load);
    }

    /// Goes on with the block that is on its way, as far as one sample bears; `has_set_off`: with the
    /// first stage it has borne one already.
    pub(super) fn walk_on(&mut self, has_set_off: bool) {
        for _ in u8::from(has_set_off)..self.walk.at_once {
            self.next_stage();
        }
    }

    fn next_stage(&mut self) {
        match self.walk.due {
            Stage::Explain => {}
            Stage::Weigh => self.weigh(),
            Stage::Turn => self.turn(),
            Stage::Tell => self.tell(),
        }
    }

    fn weigh(&mut self) {
        self.source.weigh(&mut self.walk.reading);
        self.walk.due = Stage::Turn;
        if self.walk.reading.taring {
            self.tell_torque();
            if let Some(advance_m) = self.walk.reading.advance_m {
                self.standoff.tare(advance_m * self.tightening);
            }
            self.walk.due = Stage::Explain;
        }
    }

    fn turn(&mut self) {
        if self.walk.dt_s > self.walk.stale_after_s {
            // Nobody saw what the tool did meanwhile; the bolt, maybe, went on as it did.
            let gap_part = self.walk.dt_s / self.clock.since_start_s(self.walk.time_us);
            let turned_rad = self.walk.motion.bolt_rad * gap_part;
            self.joiner.lose(self.walk.tool_rad, turned_rad);
        }
        let reading = &self.walk.reading;
        self.walk.tool_rad = reading.tool_rad;
        self.walk.motion = if let Some(why) = reading.pause {
            self.joiner.pause(reading.tool_rad, why)
        } else if reading.torque.observable {
            // While a load changes the torque is not the bolt's: the tool goes on as it did.
            if !reading.settling {
                self.walk.effort = Effort {
                    torque_nm: reading.torque.value_nm,
                    noise_nm: reading.torque.noise_nm,
                    systematic_u_nm: reading.torque.systematic_u_nm,
                };
            }
            self.joiner.update(reading.tool_rad, &self.walk.effort)
        } else {
            self.joiner.hold(reading.tool_rad)
        };
        // A step is judged from the block after the one that closes it on, so that no sample bears both.
        let mut judged = Judged::NOTHING;
        self.judge_next(&mut judged);
        self.walk.judged = judged;
        self.walk.due = Stage::Tell;
    }

    fn tell_permit(&mut self) {
        self.last.stopped = self.landmarks.stopped;
        self.last.permitted = !self.landmarks.stopped;
    }

    /// Puts time and torque of the block into the update, and gives the torque as it is told.
    fn tell_torque(&mut self) -> AxialTorque {
        let reading = &self.walk.reading;
        // Whatever the pose tells, it is not told of a tool that is not held or a load just changed.
        let told = !reading.settling && reading.pause != Some(Pause::Released);
        let torque = AxialTorque {
            observable: reading.torque.observable && told,
            ..reading.torque
        };
        self.last.time_us = self.walk.time_us;
        self.last.torque_nm = torque.value_nm * self.tightening;
        self.last.torque_u_nm = torque.u_nm();
        self.last.torque_observable = torque.observable;
        self.last.side_moment = reading.side;
        self.last.turning = false;
        self.tell_permit();
        torque
    }

    fn tell(&mut self) {
        self.walk.due = Stage::Explain;
        let torque = self.tell_torque();
        let Walk {
            time_us,
            dt_s,
            stale_after_s,
            motion,
            mut judged,
            ..
        } = self.walk;
        let reading = &self.walk.reading;
        self.last.turning = motion.progress_rad > 0.0;
        self.last.angle_rad = motion.bolt_rad * self.tightening;
        self.last.angle_u_rad = self.joiner.angle_u_rad();

        if torque.observable {
            let torque = Figure {
                value: torque.value_nm,
                u: self.last.torque_u_nm,
            };
            let angle = self.angle();
            if self.last.turning {
                self.landmarks.side = reading.side;
            }
            self.landmarks
                .follow(dt_s, torque, angle, self.recent.local.as_ref());
        }
        let level_nm = self.recent.level.mean_nm();
        let step = self.steps.add(time_us, &motion, &torque, reading.advance_m);
        let settling = reading.settling;
        if let Some(step) = step {
            self.last.curve_point = true;
            self.keep(step, &mut judged);
            self.unasked = (!settling).then(|| self.detectors.first());
        }
        let reading = &self.walk.reading;
        let out = match self.job.goal.direction() {
            Direction::Tighten => None,
            Direction::Undo => Some((motion.bolt_rad, self.expected.pitch_m)),
        };
        let at_m = reading.advance_m.map(|m| m * self.tightening);
        let free_motion = reading.free_motion
            || at_m.is_some_and(|m| self.standoff.is_clear(m, self.last.turning, out));
        let view = SampleView {
            dt_s,
            torque: &torque,
            expected: &self.expected,
            turning: self.last.turning,
            bolt_rad: motion.bolt_rad,
            tool_rad: reading.tool_rad,
            paused: reading.pause.is_some(),
            joints: self.source.joints(),
            free_motion,
            side: reading.side.as_ref(),
            tool_axis: &self.job.tool.axis,
            stale_after_s,
        };
        if settling {
            self.detectors.on_settling(&view);
        } else {
            self.detectors.on_sample(&view);
        }
        // One is said with each sample: where two blocks end with this one, the other waits.
        let mut said = None;
        if self.last.finding.is_none()
            && let Some(detection) = self.detectors.next()
        {
            let finding = self.finding(&detection, time_us);
            let onset_nm = self.detectors.yield_onset_nm();
            self.landmarks.note(&finding, self.angle(), onset_nm);
            said = Some(finding.kind);
            self.last.finding = Some(finding);
            self.tell_permit();
        }
        self.last.snug_seen |= judged.snug == Some(SnugChange::Seen);
        self.last.phase = self.phase.update(&PhaseView {
            turning: self.last.turning,
            bolt_rad: motion.bolt_rad,
            torque_nm: torque
                .observable
                .then_some((torque.value_nm, torque.u_nm())),
            step_nm: judged.step_nm,
            level_nm,
            ceiling_nm: self.expected.ceiling_nm,
            snug: judged.snug,
            finding: said,
        });
    }
}
