//! A small bounded signal for the operator's hand: what the monitor saw, felt at the master.
//!
//! Three patterns, told apart by their shape: one click at snug, a resistance that grows as the
//! torque comes near its target, and bursts of three pulses, again and again, once the permit is
//! withdrawn. A stop goes before a click, a click before the resistance. Widths and parts are
//! common practice, no source: pulses of a hand-felt length, far apart from each other.
//!
//! Figures are N·m at the master's handle, positive against the driving direction. The force ratio
//! does not enter: add the cue *after* the force that the ratio scales, so that a click feels the
//! same at every ratio and the limit stays a limit. An aid, not a safety function: it may be off,
//! and it never changes an estimate.

use crate::monitor::Update;

/// Longest time that one call is taken for, s: a gap must not let the handle jump.
const LONGEST_STEP_S: f32 = 0.02;
/// Length of a click, s.
const CLICK_S: f32 = 0.06;
/// Height of a click, as a part of the limit.
const CLICK_PART: f32 = 0.6;
/// Part of the target from which the resistance grows, up to the target.
const STIFFENS_FROM: f32 = 0.8;
/// Resistance at the target, as a part of the limit.
const STIFF_PART: f32 = 0.5;
/// Length of one pulse of a stop, s; height is the limit.
const PULSE_S: f32 = 0.08;
/// Pulses of a burst, and time from burst to burst, s.
const PULSES: f32 = 3.0;
const BURST_S: f32 = 0.6;

/// Largest torque and rate that may be set: no master's handle of a hand controller takes more.
const LARGEST_NM: f32 = 10.0;
const LARGEST_RATE: f32 = 1000.0;

/// How strong the cue may be. Off by default.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CueSettings {
    /// Whether there is a cue at all.
    pub enabled: bool,
    /// Largest torque either way, N·m at the handle, above 0 and up to 10.
    pub limit_nm: f32,
    /// Fastest change, N·m/s at the handle, above 0 and up to 1000.
    pub rate_limit_nm_per_s: f32,
}

impl Default for CueSettings {
    /// Off; if switched on, 0.1 N·m and 10 N·m/s.
    fn default() -> Self {
        Self {
            enabled: false,
            limit_nm: 0.1,
            rate_limit_nm_per_s: 10.0,
        }
    }
}

/// A setting that cannot be used.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CueError {
    /// The limit is no torque that a handle may take.
    Limit {
        /// What was set, N·m.
        limit_nm: f32,
    },
    /// The rate limit is no rate that a handle may take.
    RateLimit {
        /// What was set, N·m/s.
        rate_limit_nm_per_s: f32,
    },
}

impl core::fmt::Display for CueError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Limit { limit_nm } => write!(
                f,
                "cue limit_nm is {limit_nm}: give more than 0 and at most {LARGEST_NM} N·m at the handle"
            ),
            Self::RateLimit {
                rate_limit_nm_per_s,
            } => write!(
                f,
                "cue rate_limit_nm_per_s is {rate_limit_nm_per_s}: give more than 0 and at most {LARGEST_RATE} N·m/s"
            ),
        }
    }
}

impl core::error::Error for CueError {}

impl CueSettings {
    /// Checks the limits, whether the cue is on or not.
    ///
    /// # Errors
    /// [`CueError`] names the setting that is not a finite number in its range.
    pub fn check(&self) -> Result<(), CueError> {
        let within = |x: f32, most: f32| x > 0.0 && x <= most;
        if !within(self.limit_nm, LARGEST_NM) {
            return Err(CueError::Limit {
                limit_nm: self.limit_nm,
            });
        }
        if !within(self.rate_limit_nm_per_s, LARGEST_RATE) {
            return Err(CueError::RateLimit {
                rate_limit_nm_per_s: self.rate_limit_nm_per_s,
            });
        }
        Ok(())
    }
}

/// The cue of one run.
#[derive(Clone, Copy, Debug)]
pub struct Cue {
    settings: CueSettings,
    target_nm: Option<f32>,
    /// Time since the click began, s, while it lasts.
    click_s: Option<f32>,
    /// Time since the permit was withdrawn, within a burst, s.
    stop_s: Option<f32>,
    output_nm: f32,
}

impl Cue {
    /// A cue at rest. Without a target (as when a bolt is undone)
    /// nothing stiffens; a target is used by its size.
    ///
    /// # Errors
    /// As [`CueSettings::check`].
    pub fn try_new(settings: CueSettings, target_nm: Option<f32>) -> Result<Self, CueError> {
        settings.check()?;
        Ok(Self {
            settings,
            target_nm: target_nm.map(f32::abs),
            click_s: None,
            stop_s: None,
            output_nm: 0.0,
        })
    }

    /// The torque for the handle after a sample, N·m, positive against the driving direction;
    /// `dt_s` is the time since the last call, s. Never beyond the limit, never changed by more
    /// than the rate limit allows in `dt_s`, whatever comes in; a time that is no time (NaN,
    /// negative) changes nothing, one above 20 ms counts as 20 ms.
    pub fn update(&mut self, update: &Update, dt_s: f32) -> f32 {
        if !self.settings.enabled {
            return 0.0;
        }
        let dt_s = if dt_s > 0.0 {
            dt_s.min(LONGEST_STEP_S)
        } else {
            0.0
        };
        let goal_nm = self.settings.limit_nm * self.goal_part(update, dt_s);
        let most_nm = self.settings.rate_limit_nm_per_s * dt_s;
        let step_nm = (goal_nm - self.output_nm).clamp(-most_nm, most_nm);
        let limit_nm = self.settings.limit_nm;
        self.output_nm = (self.output_nm + step_nm).clamp(-limit_nm, limit_nm);
        self.output_nm
    }

    /// What the handle should do, as a part of the limit, −1 to 1.
    fn goal_part(&mut self, update: &Update, dt_s: f32) -> f32 {
        if update.stopped {
            self.click_s = None;
            let at_s = self.stop_s.map_or(0.0, |s| {
                let next = s + dt_s;
                if next < BURST_S { next } else { next - BURST_S }
            });
            self.stop_s = Some(at_s);
            let pulse = crate::math::floor(at_s / PULSE_S);
            return if pulse < PULSES {
                swing(at_s / PULSE_S - pulse)
            } else {
                0.0
            };
        }
        self.stop_s = None;
        if update.snug_seen {
            self.click_s = Some(0.0);
        }
        if let Some(at_s) = self.click_s {
            self.click_s = Some(at_s + dt_s).filter(|s| *s < CLICK_S);
            return CLICK_PART * swing(at_s / CLICK_S);
        }
        match self.target_nm {
            Some(target_nm) if update.torque_observable && target_nm > 0.0 => {
                let part = update.torque_nm.abs() / target_nm;
                let near = (part - STIFFENS_FROM) / (1.0 - STIFFENS_FROM);
                if near > 0.0 {
                    STIFF_PART * near.min(1.0)
                } else {
                    0.0
                }
            }
            _ => 0.0,
        }
    }
}

/// One push and one pull: a triangle up, then down; `at` from 0 to 1.
fn swing(at: f32) -> f32 {
    let quarter = 4.0 * at;
    if quarter < 1.0 {
        quarter
    } else if quarter < 3.0 {
        2.0 - quarter
    } else {
        quarter - 4.0
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::vec::Vec;

    use proptest::prelude::*;

    use super::*;
    use crate::phase::Phase;

    const LIMIT_NM: f32 = 0.2;
    const RATE: f32 = 20.0;
    const DT_S: f32 = 1e-3;

    fn on() -> CueSettings {
        CueSettings {
            enabled: true,
            limit_nm: LIMIT_NM,
            rate_limit_nm_per_s: RATE,
        }
    }

    fn update(torque_nm: f32) -> Update {
        Update {
            time_us: 0,
            torque_nm,
            torque_u_nm: 0.1,
            torque_observable: true,
            angle_rad: 0.0,
            angle_u_rad: 0.0,
            turning: true,
            phase: Phase::Rundown,
            side_moment: None,
            snug_seen: false,
            finding: None,
            permitted: true,
            stopped: false,
            curve_point: false,
        }
    }

    /// The cue over `n` ms of the same update, after `first`.
    fn felt(cue: &mut Cue, first: &Update, then: &Update, n: usize) -> Vec<f32> {
        let mut all = Vec::from([cue.update(first, DT_S)]);
        all.extend((1..n).map(|_| cue.update(then, DT_S)));
        all
    }

    /// How often the torque passes from push to pull or back.
    fn reversals(felt: &[f32]) -> usize {
        let signs: Vec<bool> = felt
            .iter()
            .filter(|x| x.abs() > 1e-3)
            .map(|x| *x > 0.0)
            .collect();
        signs.windows(2).filter(|pair| pair[0] != pair[1]).count()
    }

    #[test]
    fn it_is_off_by_default() {
        let mut cue = Cue::try_new(CueSettings::default(), Some(10.0)).unwrap();
        let stop = Update {
            permitted: false,
            stopped: true,
            snug_seen: true,
            ..update(50.0)
        };
        assert!(felt(&mut cue, &stop, &stop, 500).iter().all(|x| *x == 0.0));
    }

    #[test]
    fn snug_is_one_click_and_then_nothing() {
        let mut cue = Cue::try_new(on(), Some(10.0)).unwrap();
        let snug = Update {
            snug_seen: true,
            ..update(1.0)
        };
        let felt = felt(&mut cue, &snug, &update(1.0), 300);
        let most = felt.iter().copied().fold(0.0, f32::max);
        assert!(
            (most - CLICK_PART * LIMIT_NM).abs() < 0.1 * LIMIT_NM,
            "{most}"
        );
        assert_eq!(reversals(&felt), 1);
        assert!(felt[100..].iter().all(|x| *x == 0.0));
    }

    #[test]
    fn it_stiffens_towards_the_target_in_either_direction_and_no_further() {
        for sign in [1.0, -1.0] {
            let mut cue = Cue::try_new(on(), Some(10.0)).unwrap();
            let mut at = |torque: f32| {
                let update = update(sign * torque);
                *felt(&mut cue, &update, &update, 100).last().unwrap()
            };
            let (low, near, there, above) = (at(7.9), at(9.0), at(10.0), at(15.0));
            assert_eq!(low, 0.0);
            assert!((near - 0.25 * LIMIT_NM).abs() < 1e-6, "{near}");
            assert!((there - 0.5 * LIMIT_NM).abs() < 1e-6 && above == there);
        }
    }

    #[test]
    fn a_torque_that_is_not_observable_stiffens_nothing() {
        let mut cue = Cue::try_new(on(), Some(10.0)).unwrap();
        let unknown = Update {
            torque_observable: false,
            ..update(10.0)
        };
        assert!(
            felt(&mut cue, &unknown, &unknown, 100)
                .iter()
                .all(|x| *x == 0.0)
        );
    }

    #[test]
    fn a_stop_is_bursts_of_three_and_goes_before_all_else() {
        let mut cue = Cue::try_new(on(), Some(10.0)).unwrap();
        let stop = Update {
            permitted: false,
            stopped: true,
            snug_seen: true,
            ..update(10.0)
        };
        let felt = felt(&mut cue, &stop, &stop, 1200);
        // Three swings have five reversals between them, and so in the second burst.
        for burst in [&felt[..600], &felt[600..]] {
            assert_eq!(reversals(&burst[..400]), 5);
            assert!(burst[300..590].iter().all(|x| *x == 0.0));
        }
        let most = felt.iter().copied().fold(0.0, f32::max);
        assert!(most > 0.9 * LIMIT_NM, "{most}");
    }

    #[test]
    fn unsound_limits_are_refused_by_name() {
        for bad in [0.0, -1.0, f32::NAN, f32::INFINITY, 10.1] {
            let settings = CueSettings {
                limit_nm: bad,
                ..on()
            };
            assert!(matches!(settings.check(), Err(CueError::Limit { .. })));
        }
        for bad in [0.0, -1.0, f32::NAN, f32::INFINITY, 1001.0] {
            let settings = CueSettings {
                rate_limit_nm_per_s: bad,
                ..on()
            };
            assert!(matches!(settings.check(), Err(CueError::RateLimit { .. })));
        }
        assert_eq!(CueSettings::default().check(), Ok(()));
    }

    fn any_number() -> impl Strategy<Value = f32> {
        prop_oneof![any::<u32>().prop_map(f32::from_bits), -20.0_f32..20.0]
    }

    fn any_time() -> impl Strategy<Value = f32> {
        prop_oneof![any::<u32>().prop_map(f32::from_bits), 0.0_f32..0.05]
    }

    proptest! {
        #[test]
        fn never_beyond_its_limit_nor_its_rate_whatever_comes_in(
            limit_nm in 1e-6_f32..10.0,
            rate in 1e-6_f32..1000.0,
            target in prop::option::of(any_number()),
            inputs in prop::collection::vec(
                (any_number(), any::<[bool; 3]>(), any_time()), 1..300),
        ) {
            let settings = CueSettings { enabled: true, limit_nm, rate_limit_nm_per_s: rate };
            let mut cue = Cue::try_new(settings, target).unwrap();
            let mut last = 0.0_f32;
            for (torque, [observable, snug_seen, stopped], dt_s) in inputs {
                let now = cue.update(&Update {
                    torque_observable: observable,
                    snug_seen,
                    stopped,
                    ..update(torque)
                }, dt_s);
                prop_assert!(now.abs() <= limit_nm, "{now}");
                // NaN and negative times allow no change at all; rounding is one part in 10⁷ of
                // the figures that are added.
                let most = if dt_s > 0.0 { rate * dt_s } else { 0.0 };
                prop_assert!((now - last).abs() <= most + 2e-7 * limit_nm, "{last} {now} {most}");
                last = now;
            }
        }
    }
}
