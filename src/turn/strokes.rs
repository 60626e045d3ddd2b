//! Joins the strokes of a wrist or a ratchet into one bolt angle.
//!
//! The bolt is turning only while it resists as it last did. While the tool drives, the bolt angle
//! follows the high-water mark of the tool angle less wind-up, so pauses and wind-up add nothing.
//! Once the tool has gone back, it is free: slack, the return stroke and re-seating add nothing
//! until the torque regains the level at which the bolt last turned.
//!
//! | from | condition | to |
//! |---|---|---|
//! | driving | tool behind its mark by more than [`RELEASE_RAD`], and tool can re-seat | free |
//! | free | torque regains the gate (CUSUM): counts from where the torque first passed it | driving |
//! | free | torque below the gate but resisting over more than the slack: the bolt resists less than it did | driving |
//! | free | level too low to be told from slack: forward travel beyond the slack | driving |

/// Fall of the tool angle behind its mark that counts as having gone back (0.5°).
pub const RELEASE_RAD: f32 = 0.0087;

/// Slack assumed where neither tooth nor play are known (12°: a 30-tooth ratchet).
const UNKNOWN_SLACK_RAD: f32 = 0.21;
/// Margin on the stated slack.
const SLACK_MARGIN_RAD: f32 = 0.087;
/// Angle over which the resisting level is averaged while driving (1.5°).
const LEVEL_RAD: f32 = 0.026;
/// CUSUM limit in standard deviations: with the gate midway, a false join needs exp(−12).
const CUSUM_LIMIT: f32 = 12.0;
/// The gate lies this part of the level below it, for friction that varies along the thread.
const GATE_PART: f32 = 0.15;
/// A level below this many standard deviations of one sample is not told from slack.
const RESOLVED_SIGMA: f32 = 1.5;
/// Part of the level that still counts as resisting.
const RESISTING_PART: f32 = 0.1;
/// Smoothing of the torque that wind-up is computed from, one sample's share.
const SMOOTHING: f32 = 0.25;
/// Relative standard uncertainty taken for a stated wind-up stiffness.
const WINDUP_U: f32 = 0.1;
/// Compliance up to which an unstated wind-up is reckoned with, rad/(N·m).
const UNKNOWN_COMPLIANCE: f32 = 1.0e-3;

/// What is known of the tool between the measured angle and the bolt head.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct JoinConfig {
    /// Torsional stiffness, N·m/rad.
    pub windup_nm_per_rad: Option<f32>,
    /// Free angle on each re-engagement (tooth and play together), rad.
    pub slack_rad: Option<f32>,
    /// Whether the tool can leave the head and come back at another angle. `false` for a powered
    /// spindle.
    pub reseats: bool,
}

/// What one sample did to the bolt.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Motion {
    /// Bolt angle since the start of the run, rad, driving direction positive.
    pub bolt_rad: f32,
    /// By how much it grew at this sample, rad, never negative.
    pub progress_rad: f32,
    /// Whether a stroke was joined at this sample.
    pub joined: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Contact {
    Driving,
    Free,
}

/// The stroke joiner. Feed it the tool angle and torque in the driving direction.
#[derive(Clone, Copy, Debug)]
pub struct StrokeJoiner {
    compliance: f32,
    compliance_u: f32,
    slack_rad: f32,
    slack_known: bool,
    reseats: bool,

    contact: Contact,
    started: bool,
    bolt_rad: f32,
    bolt_variance: f32,
    /// Tool angle less wind-up at which the bolt last turned.
    mark_rad: f32,
    level_nm: f32,
    smooth_nm: f32,
    last_rad: f32,

    lowest_rad: f32,
    cusum: f32,
    cusum_start_rad: f32,
    resisting_from_rad: Option<f32>,
    mean_slack_rad: f32,
    joins: u32,
}

impl StrokeJoiner {
    /// From what is known of the tool.
    pub fn new(config: &JoinConfig) -> Self {
        let compliance = config
            .windup_nm_per_rad
            .filter(|k| *k > 0.0)
            .map(|k| 1.0 / k);
        Self {
            compliance: compliance.unwrap_or(0.0),
            compliance_u: compliance.map_or(UNKNOWN_COMPLIANCE, |c| c * WINDUP_U),
            slack_rad: config
                .slack_rad
                .map_or(UNKNOWN_SLACK_RAD, |s| s + SLACK_MARGIN_RAD),
            slack_known: config.slack_rad.is_some(),
            reseats: config.reseats,
            contact: Contact::Driving,
            started: false,
            bolt_rad: 0.0,
            bolt_variance: 0.0,
            mark_rad: 0.0,
            level_nm: 0.0,
            smooth_nm: 0.0,
            last_rad: 0.0,
            lowest_rad: 0.0,
            cusum: 0.0,
            cusum_start_rad: 0.0,
            resisting_from_rad: None,
            mean_slack_rad: config.slack_rad.unwrap_or(0.0) * 0.5,
            joins: 0,
        }
    }

    /// Takes in one sample: tool angle in rad, torque and its white noise in N·m, all in the
    /// driving direction.
    pub fn update(&mut self, tool_rad: f32, torque_nm: f32, noise_nm: f32) -> Motion {
        if !self.started {
            self.started = true;
            self.smooth_nm = torque_nm;
            self.mark_rad = tool_rad - torque_nm * self.compliance;
            self.last_rad = self.mark_rad;
        }
        self.smooth_nm += (torque_nm - self.smooth_nm) * SMOOTHING;
        let at_rad = tool_rad - self.smooth_nm * self.compliance;
        let mut joined = false;
        if self.contact == Contact::Free {
            if let Some(start_rad) = self.rejoin(at_rad, torque_nm, noise_nm) {
                self.contact = Contact::Driving;
                self.mark_rad = start_rad;
                joined = true;
            }
        } else if self.reseats && at_rad < self.mark_rad - RELEASE_RAD {
            self.contact = Contact::Free;
            self.lowest_rad = at_rad;
            self.cusum = 0.0;
            self.cusum_start_rad = at_rad;
            self.resisting_from_rad = None;
        }
        let mut progress_rad = 0.0;
        if self.contact == Contact::Driving && at_rad > self.mark_rad {
            progress_rad = at_rad - self.mark_rad;
            self.mark_rad = at_rad;
            self.bolt_rad += progress_rad;
            self.level_nm +=
                (self.smooth_nm - self.level_nm) * (progress_rad / (progress_rad + LEVEL_RAD));
        }
        self.last_rad = at_rad;
        Motion {
            bolt_rad: self.bolt_rad,
            progress_rad,
            joined,
        }
    }

    /// Standard uncertainty of the bolt angle, rad: what joins and wind-up leave open.
    pub fn angle_u_rad(&self) -> f32 {
        let windup = self.level_nm * self.compliance_u;
        crate::math::sqrt(self.bolt_variance + windup * windup)
    }

    /// Torque at which the bolt last turned, N·m.
    pub fn level_nm(&self) -> f32 {
        self.level_nm
    }

    /// Strokes joined so far.
    pub fn joins(&self) -> u32 {
        self.joins
    }

    /// Where the bolt began to turn again, if it has.
    fn rejoin(&mut self, at_rad: f32, torque_nm: f32, noise_nm: f32) -> Option<f32> {
        if at_rad < self.lowest_rad {
            self.lowest_rad = at_rad;
            self.cusum = 0.0;
            self.cusum_start_rad = at_rad;
            self.resisting_from_rad = None;
            return None;
        }
        let travel_rad = at_rad - self.lowest_rad;
        let step_rad = at_rad - self.last_rad;
        let noise = noise_nm.max(1e-6);
        let resolved = self.level_nm > RESOLVED_SIGMA * noise;

        if resolved {
            let gate = (self.level_nm - (GATE_PART * self.level_nm).max(3.0 * noise))
                .max(0.5 * self.level_nm);
            self.cusum += (torque_nm - gate) / noise;
            if self.cusum <= 0.0 {
                self.cusum = 0.0;
                self.cusum_start_rad = at_rad;
            } else if self.cusum > CUSUM_LIMIT && step_rad > 0.0 {
                let start = self.cusum_start_rad;
                self.note_slack(start - self.lowest_rad);
                // One sample's travel is as well as the passage can be told.
                self.bolt_variance += step_rad * step_rad;
                return Some(start);
            }
            let resisting = (RESISTING_PART * self.level_nm).max(noise);
            if self.smooth_nm > resisting {
                let from = *self.resisting_from_rad.get_or_insert(at_rad);
                if at_rad - from > self.slack_rad {
                    self.level_nm = self.smooth_nm;
                    self.joins = self.joins.saturating_add(1);
                    self.bolt_variance += self.slack_rad * self.slack_rad / 12.0;
                    return Some(from);
                }
            } else {
                self.resisting_from_rad = None;
            }
        } else if travel_rad > self.slack_rad {
            self.joins = self.joins.saturating_add(1);
            self.bolt_variance += self.slack_rad * self.slack_rad / 12.0;
            return Some(self.lowest_rad + self.mean_slack_rad.min(travel_rad));
        }
        None
    }

    /// Learns the usual slack from joins whose point the torque showed.
    fn note_slack(&mut self, slack_rad: f32) {
        self.joins = self.joins.saturating_add(1);
        if !self.slack_known && slack_rad <= self.slack_rad {
            self.mean_slack_rad += (slack_rad - self.mean_slack_rad) / self.joins as f32;
        }
    }
}
