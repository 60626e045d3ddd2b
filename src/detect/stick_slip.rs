//! A bolt that turns in jerks: the tool winds up until the bolt breaks loose, it jumps, and sticks.
//!
//! The torque then swings between what breaks it loose and what it comes to rest with. Friction at
//! rest is no measure of the clamp force, so the peaks overstate it: the torque of the run is read
//! from the lower envelope, and the whole swing counts as its uncertainty.

use super::{Detection, Detector, FindingKind, Quantity, SampleView};
use crate::math::{Limited, sqrt};

/// A swing counts from this part of the torque on (common practice: 5 to 10 %, no source), ...
const SWING_PART: f32 = 0.06;
/// ... so many standard deviations of the noise of a sample, peak to peak, ...
const SWING_NOISES: f32 = 8.0;
/// ... and so many standard uncertainties of what does not average out: joint friction changes with
/// the speed of an unsteady hand.
const SWING_SYSTEMATICS: f32 = 2.0;
/// Swings in a row ...
const SWINGS: u32 = 6;
/// ... each within this travel of the tool, rad (2.5°): a surface wanders over more, and a jump that
/// takes more would be seen as one.
const TRAVEL_RAD: f32 = 0.044;
/// Least torque, as a part of the target or, undone, of the most that breaks the bolt loose: below, the
/// swing of a running thread does no harm.
const LEAST_PART: f32 = 0.15;
/// Travel of the tool from swing to swing, rad (0.03°): the jump of a bolt that slips, against the spring
/// of the tool. What swings in one place is a hand that holds.
const JUMP_RAD: f32 = 5.0e-4;
/// What falls below this part of its upper envelope lets go altogether, and is no stick–slip.
const LETS_GO_PART: f32 = 0.4;
/// Fall of the tool behind where it was furthest that ends the row, rad (0.5°).
const BACK_RAD: f32 = 0.0087;

/// The envelope of a swinging torque.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Swing {
    /// Lower envelope, N·m.
    pub low_nm: f32,
    /// Upper envelope, N·m.
    pub high_nm: f32,
}

impl Swing {
    /// Standard uncertainty of the lower envelope as the torque of the run, N·m: that may lie anywhere in
    /// the swing with equal right (JCGM 100, 4.3.7), so in the mean square a third of the squared swing
    /// from its low end. About the middle it were a twelfth.
    pub fn u_nm(&self) -> f32 {
        (self.high_nm - self.low_nm) / sqrt(3.0)
    }
}

/// Detector of stick–slip, and its envelope.
#[derive(Clone, Copy, Debug, Default)]
pub struct StickSlip {
    /// Whether the torque is on its way up, and the highest or lowest on this way, N·m.
    rising: bool,
    extreme_nm: f32,
    high_nm: Option<f32>,
    last: Option<Swing>,
    swung_rad: f32,
    row: u32,
    row_rad: f32,
    furthest_rad: f32,
    /// Tool angle at the sample before, rad, and how far the tool has turned the bolt since the last swing of
    /// a row.
    tool_rad: f32,
    smooth_rad: f32,
    /// Whether the bolt turned in jerks when it last turned.
    swings: bool,
    found: bool,
}

impl Detector for StickSlip {
    fn on_sample(&mut self, view: &SampleView<'_>) -> Option<Detection> {
        let on_rad = (view.tool_rad - self.tool_rad).at_least(0.0);
        self.tool_rad = view.tool_rad;
        if view.paused || !view.torque.observable {
            self.end_row(view.tool_rad);
            return None;
        }
        if view.turning {
            self.smooth_rad += on_rad;
        }
        self.swings &= self.smooth_rad <= TRAVEL_RAD;
        if view.tool_rad < self.furthest_rad - BACK_RAD || view.tool_rad - self.row_rad > TRAVEL_RAD
        {
            self.end_row(view.tool_rad);
        }
        self.furthest_rad = self.furthest_rad.at_least(view.tool_rad);
        let torque_nm = view.torque.value_nm;
        let least_nm = (SWING_PART * self.extreme_nm.abs())
            .at_least(SWING_NOISES * view.torque.noise_nm)
            .at_least(SWING_SYSTEMATICS * view.torque.systematic_u_nm);
        if self.rising {
            if torque_nm >= self.extreme_nm {
                self.extreme_nm = torque_nm;
            } else if self.extreme_nm - torque_nm > least_nm {
                self.high_nm = Some(self.extreme_nm);
                (self.rising, self.extreme_nm) = (false, torque_nm);
            }
            return None;
        }
        if torque_nm <= self.extreme_nm {
            self.extreme_nm = torque_nm;
            return None;
        }
        if torque_nm - self.extreme_nm <= least_nm {
            return None;
        }
        let low_nm = self.extreme_nm;
        (self.rising, self.extreme_nm) = (true, torque_nm);
        let high_nm = self.high_nm?;
        let goes_on = self.furthest_rad - self.swung_rad >= JUMP_RAD;
        if !goes_on || low_nm <= LETS_GO_PART * high_nm {
            return None;
        }
        let swing = Swing { low_nm, high_nm };
        self.last = Some(swing);
        self.row += 1;
        self.smooth_rad = 0.0;
        self.swings |= self.row >= SWINGS;
        self.row_rad = view.tool_rad;
        self.swung_rad = self.furthest_rad;
        let expected = view.expected;
        let scale_nm = (expected.target_nm).or(expected.breakaway_nm.map(|band| band.max));
        let matters_nm = scale_nm.map_or(0.0, |nm| LEAST_PART * nm);
        if self.found || low_nm <= matters_nm || self.row < SWINGS {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind: FindingKind::StickSlip,
            quantity: Quantity::AmplitudeNm,
            value: 0.5 * (swing.high_nm - swing.low_nm),
            limit: 0.5 * least_nm,
            place: None,
            likely: None,
            runner_up: None,
        })
    }
}

impl StickSlip {
    /// The envelope where the torque swings; `None` where it has not, or no longer did when the bolt
    /// last turned. A tool that unwinds when it is let go turns nothing.
    pub fn swing(&self) -> Option<Swing> {
        self.last.filter(|_| self.found && self.swings)
    }

    fn end_row(&mut self, tool_rad: f32) {
        (self.row, self.row_rad, self.furthest_rad) = (0, tool_rad, tool_rad);
        self.swung_rad = tool_rad;
    }
}

#[cfg(test)]
mod tests {
    use super::super::bench::{Touch, touch};
    use super::*;

    /// Two seconds at 5° a second around 30 N·m; `swing` by the tool angle in degrees.
    fn drive(swing: impl Fn(f32) -> f32) -> impl Iterator<Item = Touch> {
        (0..2000).map(move |i| {
            let tool_deg = 0.005 * i as f32;
            (tool_deg, 30.0 * (1.0 + swing(tool_deg)), true)
        })
    }

    #[test]
    fn a_saw_tooth_is_told_and_its_envelope_read() {
        let mut detector = StickSlip::default();
        let saw = |tool_deg: f32| 0.2 * (tool_deg / 0.5).fract() - 0.1;
        let (detection, _) = touch(&mut detector, drive(saw)).expect("sticks and slips");
        assert_eq!(detection.kind, FindingKind::StickSlip);
        assert!((detection.value - 3.0).abs() < 0.2, "{}", detection.value);
        let swing = detector.swing().expect("swings");
        assert!((swing.low_nm - 27.0).abs() < 0.3, "{swing:?}");
        assert!(
            (swing.u_nm() - 6.0 / 3.0_f32.sqrt()).abs() < 0.1,
            "{swing:?}"
        );
        // What is stated with it covers the whole swing.
        assert!(swing.low_nm + 2.0 * swing.u_nm() >= swing.high_nm);
    }

    #[test]
    fn a_surface_that_wanders_and_a_noisy_sensor_are_none() {
        let surface = |tool_deg: f32| 0.06 * (tool_deg * core::f32::consts::TAU / 6.0).sin();
        let noise = |tool_deg: f32| 0.01 * (tool_deg * 700.0).sin();
        for calm in [&surface as &dyn Fn(f32) -> f32, &noise] {
            let mut detector = StickSlip::default();
            assert_eq!(touch(&mut detector, drive(calm)), None);
            assert_eq!(detector.swing(), None);
        }
    }

    /// The wind-up that comes back when the tool is let go takes nothing from what was seen; turning on
    /// smoothly does.
    #[test]
    fn the_envelope_stays_when_the_tool_unwinds_and_goes_when_the_bolt_turns_smoothly() {
        let mut detector = StickSlip::default();
        let saw = |tool_deg: f32| 0.2 * (tool_deg / 0.5).fract() - 0.1;
        assert!(touch(&mut detector, drive(saw)).is_some());
        let before = detector.swing();
        let unwinds = (0..300).map(|i| (10.0 - 0.01 * i as f32, 30.0 - 0.1 * i as f32, false));
        assert_eq!(touch(&mut detector, unwinds), None);
        assert!(before.is_some() && detector.swing() == before);
        let turns_on = (0..1000).map(|i| (7.0 + 0.01 * i as f32, 30.0, true));
        assert_eq!(touch(&mut detector, turns_on), None);
        assert_eq!(detector.swing(), None);
    }

    /// A hand that holds on one place and trembles, or lets the wrench back by a third and takes it up
    /// again, slips nothing; nor does what comes after a stick–slip count into its envelope.
    #[test]
    fn what_swings_in_one_place_is_a_hand() {
        let mut detector = StickSlip::default();
        let holds = (0..2000).map(|i| {
            let swing = 0.12 * (i as f32 * 0.06).sin();
            (5.0 + 0.2 * swing, 30.0 * (1.0 + swing), true)
        });
        assert_eq!(touch(&mut detector, holds), None);

        let mut detector = StickSlip::default();
        let saw = |tool_deg: f32| 0.2 * (tool_deg / 0.5).fract() - 0.1;
        assert!(touch(&mut detector, drive(saw)).is_some());
        assert_eq!(touch(&mut detector, drive(saw)), None, "once");
        let before = detector.swing();
        assert!(before.is_some());
        let lets_go = (0..400).map(|i| {
            let swing = 0.3 * (i as f32 * 0.2).sin();
            (10.0 - 0.001 * i as f32, 30.0 * (0.4 + swing), true)
        });
        assert_eq!(touch(&mut detector, lets_go), None);
        assert_eq!(detector.swing(), before);
    }
}
