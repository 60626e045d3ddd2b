//! Turned further than the joint may take to its torque, and the torque is not there: the joint is
//! softer than described, or something gives.
//!
//! The angle counts from where the torque left the rundown for good or, once the rise is a line, from where
//! that meets the torque of the rundown (the elastic origin: the usual way of a torque–angle analysis,
//! common practice, no source); and never from before snug is due.
//!
//! A rise that is rough is no joint at all, but flanks that bind: then the same stop gets the name of a
//! crossed thread, or of one that galls.

use super::rundown::FIRST_TURNS_RAD;
use super::{
    CLEARS_PART, Cause, Detection, Detector, FindingKind, LOCAL_STEPS, Quantity, StepView,
};
use crate::curve::WINDOW;
use crate::math::{Limited, sqrt};
use crate::procedure::Goal;

/// Torque above the rundown from which the angle counts, as a part of the target (common practice,
/// no source).
const LEFT_PART: f32 = 0.04;
/// Torque that a joint which is merely soft must have, as a part of the target: what stays below has
/// not begun to clamp, and is told by other findings.
const LEAST_PART: f32 = 0.2;
/// The rise is a line from this part of the target on, where the parts have come together, ...
const LINE_PART: f32 = 0.3;
/// ... and tells its origin when it has gone on by so much (common practice, no source).
const LINE_PART_LONG: f32 = 0.4;
/// Where the angle is computed, not stated, a joint may take so much more of it: before the line there is the
/// toe (0.3), and a stiffness is computed no better than to a fifth (common practice, no source).
const COMPUTED_PART: f32 = 0.5;
/// Scatter of the torque about a line over a window, as a part of its height above the rundown, from which on
/// flanks that bind are at work: head and thread that slide under clamp force vary by some hundredths,
/// half as much at most (common practice, no source).
const ROUGH_PART: f32 = 0.05;
/// What is left of the highest torque of a rise that goes on, however rough; less is what a thread that has
/// stripped still takes, and that is rough as well.
const RISES_PART: f32 = 0.5;
/// The limits must be exceeded by so many standard uncertainties.
const SIGMA: f32 = 2.0;
/// Steps in the mean that is compared (1.5°).
const MEAN_STEPS: usize = 3;

/// A bolt angle with its standard uncertainty, rad.
#[derive(Clone, Copy, Debug)]
struct Open {
    rad: f32,
    u_rad: f32,
}

impl Open {
    /// Standard uncertainty of the angle from here to one of `u_rad`, rad: what was open here is open
    /// there as well.
    fn u_since(&self, u_rad: f32) -> f32 {
        sqrt((u_rad * u_rad - self.u_rad * self.u_rad).at_least(0.0))
    }
}

/// Detector of a bolt that was turned too far.
#[derive(Clone, Copy, Debug)]
pub struct OverAngle {
    /// Torque from which a further angle counts, N·m, and its largest, rad.
    further: Option<(f32, f32)>,
    /// Where the torque left the rundown, and that torque, N·m.
    from: Option<(Open, f32)>,
    /// Bolt angle at which the rise had become a line, rad, and the torque there, N·m.
    line: Option<(f32, f32)>,
    /// Where that line leads back to.
    origin_rad: Option<f32>,
    /// Highest torque since it left the rundown, N·m.
    highest_nm: f32,
    mark: Option<Open>,
    found: bool,
}

impl OverAngle {
    /// For a run with this goal.
    pub fn new(goal: &Goal) -> Self {
        Self {
            further: match goal {
                Goal::TorqueThenAngle {
                    start_nm,
                    angle_rad,
                    ..
                } => Some((*start_nm, angle_rad.band().max)),
                _ => None,
            },
            from: None,
            line: None,
            origin_rad: None,
            highest_nm: 0.0,
            mark: None,
            found: false,
        }
    }
}

impl Detector for OverAngle {
    fn on_step(&mut self, view: &StepView<'_>) -> Option<Detection> {
        let (step, expected) = (view.step, view.expected);
        if self.found || !step.observable || expected.carried_nm.is_some() {
            return None;
        }
        let end_nm = expected.end_nm?;
        let mean_nm = view.window.mean_torque_nm(MEAN_STEPS);
        let (angle_rad, limit) = self
            .beyond_mark(view, mean_nm)
            .or_else(|| self.beyond_rundown(view, mean_nm))?;
        // Beyond a mark it is the angle that counts, whatever the torque.
        let short = self.mark.is_some()
            || mean_nm + SIGMA * step.torque_u_nm() < end_nm.min
                && mean_nm > expected.part_of_target_nm(LEAST_PART);
        if !(angle_rad > limit && short) {
            return None;
        }
        let gives = view
            .window
            .line(4 * LOCAL_STEPS)
            .is_some_and(|l| l.slope < 0.5 * mean_nm / angle_rad.at_least(0.1));
        let (kind, likely, runner_up) = if gives {
            let (likely, other) = (Cause::YieldingBolt, Cause::TurningTogether);
            (FindingKind::OverAngle, likely, other)
        } else {
            self.thread_that_binds(view, mean_nm).unwrap_or((
                FindingKind::OverAngle,
                Cause::SoftJoint,
                Cause::YieldingBolt,
            ))
        };
        // A smooth rise may be a burr, which clears.
        let may_clear = kind == FindingKind::OverAngle
            && self.mark.is_none()
            && mean_nm < expected.part_of_target_nm(CLEARS_PART);
        if may_clear {
            return None;
        }
        self.found = true;
        Some(Detection {
            kind,
            quantity: Quantity::AngleRad,
            value: angle_rad,
            limit,
            place: None,
            likely: Some(likely),
            runner_up: Some(runner_up),
        })
    }
}

impl OverAngle {
    /// What else takes more and more torque without end: a thread that binds, where the rise is rough. Where
    /// the turns to snug are not stated nothing else may tell it from a joint that is soft.
    fn thread_that_binds(
        &self,
        view: &StepView<'_>,
        mean_nm: f32,
    ) -> Option<(FindingKind, Cause, Cause)> {
        let (left, _) = self.from?;
        if mean_nm < RISES_PART * self.highest_nm {
            return None;
        }
        let (oldest, line) = (view.window.iter().next()?, view.window.line(WINDOW)?);
        let height_nm = line.y_mean - view.level.mean_nm().unwrap_or(0.0);
        let rough_nm = (ROUGH_PART * height_nm).at_least(SIGMA * view.step.torque_u_nm());
        // Only of what is rise from one end to the other: a knee lies far off any line.
        if oldest.angle_rad < left.rad || line.residual < rough_nm {
            return None;
        }
        Some(if left.rad <= FIRST_TURNS_RAD {
            (
                FindingKind::CrossThread,
                Cause::CrossedThread,
                Cause::SoftJoint,
            )
        } else {
            (FindingKind::Galling, Cause::GallingThread, Cause::SoftJoint)
        })
    }

    /// Angle since the start torque and its largest, rad.
    fn beyond_mark(&mut self, view: &StepView<'_>, mean_nm: f32) -> Option<(f32, f32)> {
        let (start_nm, most_rad) = self.further?;
        if mean_nm >= start_nm {
            self.mark.get_or_insert(Open {
                rad: view.step.angle_rad,
                u_rad: view.angle_u_rad,
            });
        }
        let mark = self.mark?;
        Some((
            view.step.end_rad - mark.rad,
            most_rad + SIGMA * mark.u_since(view.angle_u_rad),
        ))
    }

    /// Angle since the torque left the rundown and its largest, rad.
    fn beyond_rundown(&mut self, view: &StepView<'_>, mean_nm: f32) -> Option<(f32, f32)> {
        let expected = view.expected;
        let computed = if expected.elastic_computed {
            COMPUTED_PART
        } else {
            0.0
        };
        let most_rad = expected.elastic_rad?.max * (1.0 + computed);
        let ceiling_nm = if expected.ceiling_stated {
            expected.ceiling_nm
        } else {
            0.0
        };
        let level_nm = view.level.mean_nm();
        let usual_nm = level_nm.unwrap_or(0.0).at_least(ceiling_nm);
        if mean_nm < usual_nm + expected.part_of_target_nm(LEFT_PART) {
            (self.from, self.line, self.origin_rad) = (None, None, None);
            self.highest_nm = 0.0;
            return None;
        }
        self.highest_nm = self.highest_nm.at_least(mean_nm);
        let here = Open {
            rad: view.step.angle_rad,
            u_rad: view.angle_u_rad,
        };
        let (left, left_nm) = *self.from.get_or_insert((here, mean_nm));
        let left_rad = left.rad;
        if mean_nm >= expected.part_of_target_nm(LINE_PART) {
            self.line.get_or_insert((view.step.angle_rad, mean_nm));
        }
        // What the rundown may have been above its level counts to it.
        let running_nm = level_nm.map_or(left_nm, |l| l + SIGMA * view.level.scatter_nm());
        // Once: what falls or yields later leads nowhere.
        if let (None, Some((line_rad, line_nm))) = (self.origin_rad, self.line)
            && mean_nm - line_nm >= expected.part_of_target_nm(LINE_PART_LONG)
        {
            let (by_rad, by_nm) = (view.step.angle_rad - line_rad, mean_nm - line_nm);
            let scatter_nm = view.window.line(4 * LOCAL_STEPS)?.residual;
            // Both ends of the line lie within the scatter; it is taken back by so many lengths.
            let (per_nm, lengths) = (by_rad / by_nm, (line_nm - running_nm) / by_nm);
            let u_rad = per_nm * scatter_nm * (1.0 + lengths);
            self.origin_rad = Some(line_rad - by_rad * lengths + SIGMA * u_rad);
        }
        let origin_rad = self.origin_rad.unwrap_or(left_rad);
        // Where the slope falls off, the line would lead back too far: half the way since then at most.
        let most_rad_back = 0.5 * (view.step.end_rad - left_rad);
        let from_rad = origin_rad
            .at_least(left_rad - most_rad_back)
            .at_most(left_rad);
        let earliest_rad = expected.earliest_snug_rad.unwrap_or(0.0);
        // Where snug is due counts from the start of the run, with all that is open since.
        let (due_rad, u_rad) = if earliest_rad > from_rad {
            (earliest_rad, view.angle_u_rad)
        } else {
            (from_rad, left.u_since(view.angle_u_rad))
        };
        let limit = most_rad + SIGMA * u_rad;
        view.snug.then_some((view.step.end_rad - due_rad, limit))
    }
}

#[cfg(test)]
mod tests {
    use super::super::bench::{
        EXPECTED, RUNDOWN_NM, SNUG_DEG, Turn, kinds, sound, turn, turn_expecting, turn_open,
    };
    use super::*;
    use crate::fastener::{Band, ExpectedRun};
    use crate::procedure::Expected;

    const TORQUE: Goal = Goal::Torque {
        target_nm: 48.0,
        tolerance: 0.1,
    };

    const FURTHER: Goal = Goal::TorqueThenAngle {
        start_nm: 20.8,
        angle_rad: Expected {
            value: 0.4,
            tolerance: 0.1,
        },
        end_nm: Band {
            min: 30.0,
            max: 60.0,
        },
    };

    fn soft_rise(deg: f32) -> f32 {
        RUNDOWN_NM + (deg - SNUG_DEG).max(0.0) / 3.0
    }

    fn soft(deg: f32) -> Turn {
        Turn::steady(soft_rise(deg))
    }

    #[test]
    fn a_joint_three_times_as_soft_is_turned_too_far_and_a_sound_one_is_not() {
        let sound = |deg: f32| Turn::steady(sound(deg));
        assert_eq!(turn(&mut OverAngle::new(&TORQUE), 408.0, sound), []);
        let said = turn(&mut OverAngle::new(&TORQUE), 490.0, soft);
        assert_eq!(kinds(&said), [FindingKind::OverAngle]);
        // 88.8° beyond snug at 360°; the torque leaves the rundown for good at 367.9°.
        let (detection, at_deg) = said[0];
        assert!((455.0..460.0).contains(&at_deg), "{at_deg}");
        assert_eq!(detection.likely, Some(Cause::SoftJoint));
    }

    #[test]
    fn a_soft_rise_that_is_rough_is_a_thread_that_binds_and_where_it_began_tells_which() {
        // Flanks that bind: ±12 % over some ten degrees; a joint that clamps: ±2.5 %.
        let first = |early_deg: f32, rough: f32| {
            let bind = move |deg: f32| {
                let above_nm = soft_rise(deg + early_deg) - RUNDOWN_NM;
                Turn::steady(RUNDOWN_NM + above_nm * (1.0 + rough * (0.5 * deg).sin()))
            };
            let mut detector = OverAngle::new(&TORQUE);
            let expected = ExpectedRun {
                earliest_snug_rad: None,
                ..EXPECTED
            };
            let said = turn_expecting(&expected, &mut detector, 1000.0, |_| 0.01, bind);
            (said[0].0.kind, said[0].0.likely)
        };
        let soft = (FindingKind::OverAngle, Some(Cause::SoftJoint));
        assert_eq!(first(0.0, 0.025), soft);
        let crossed = (FindingKind::CrossThread, Some(Cause::CrossedThread));
        assert_eq!(first(0.0, 0.12), crossed);
        let galls = (FindingKind::Galling, Some(Cause::GallingThread));
        assert_eq!(first(-400.0, 0.12), galls);
    }

    /// What a thread that has stripped still takes swings as much, and rises for a while.
    #[test]
    fn what_is_left_of_a_stripped_thread_does_not_bind() {
        for phase in 0_u8..12 {
            let strips = |deg: f32| {
                let after_deg = deg - 390.0;
                let swings = 1.0 + 0.12 * (0.15 * after_deg + 0.5 * f32::from(phase)).sin();
                Turn::steady(if after_deg < 0.0 {
                    RUNDOWN_NM + (deg - SNUG_DEG).max(0.0) * 1.5
                } else {
                    (46.0 - 2.0 * after_deg).max(19.0 * swings)
                })
            };
            let said = turn(&mut OverAngle::new(&TORQUE), 700.0, strips);
            assert!(
                kinds(&said).iter().all(|k| *k == FindingKind::OverAngle),
                "{phase}"
            );
        }
    }

    #[test]
    fn a_computed_angle_leaves_room_for_toe_and_faces() {
        // Half as soft again as the stiffest limit allows: said where that is stated, not where computed.
        let until = |computed, until_deg| {
            let expected = ExpectedRun {
                elastic_computed: computed,
                ..EXPECTED
            };
            let rise = |deg: f32| Turn::steady(RUNDOWN_NM + (deg - SNUG_DEG).max(0.0) * 0.4);
            let mut detector = OverAngle::new(&TORQUE);
            kinds(&turn_expecting(
                &expected,
                &mut detector,
                until_deg,
                |_| 0.01,
                rise,
            ))
        };
        assert_eq!(until(false, 470.0), [FindingKind::OverAngle]);
        assert_eq!(until(true, 470.0), []);
    }

    #[test]
    fn the_angle_counts_from_where_the_line_meets_the_rundown() {
        // 0.445 N·m a degree: 43.2 N·m, enough, after 95.3°. The torque leaves the rundown for good 5.9° after
        // snug; counted from there the angle is too large only when the torque is there as well.
        let little_too_soft =
            |deg: f32| Turn::steady(RUNDOWN_NM + 0.445 * (deg - SNUG_DEG).max(0.0));
        let said = turn(&mut OverAngle::new(&TORQUE), 456.0, little_too_soft);
        assert_eq!(kinds(&said), [FindingKind::OverAngle]);
        // 88.8° and the uncertainty of 1.1°, and what scatter leaves open of the origin.
        let (detection, at_deg) = said[0];
        assert!((449.5..451.5).contains(&at_deg), "{at_deg}");
        let beyond_deg = (detection.value - detection.limit).to_degrees();
        assert!((0.0..0.6).contains(&beyond_deg), "{beyond_deg}");
    }

    #[test]
    fn a_rise_that_a_burr_bears_is_not_yet_a_joint() {
        // 0.1 N·m a degree, to 14 N·m of 48: a burr bears up to 16.8. Gone at 505°, or risen on.
        let rise = |deg: f32| RUNDOWN_NM + 0.1 * (deg - SNUG_DEG).clamp(0.0, 130.0);
        let burr = |deg: f32| Turn::steady(if deg < 505.0 { rise(deg) } else { RUNDOWN_NM });
        assert_eq!(turn(&mut OverAngle::new(&TORQUE), 520.0, burr), []);
        let joint = |deg: f32| Turn::steady(RUNDOWN_NM + 0.1 * (deg - SNUG_DEG).max(0.0));
        let said = turn(&mut OverAngle::new(&TORQUE), 560.0, joint);
        assert_eq!(kinds(&said), [FindingKind::OverAngle]);
        assert!((515.0..525.0).contains(&said[0].1), "{}", said[0].1);
    }

    #[test]
    fn a_rise_that_clears_does_not_count() {
        // A burr half a turn before snug: the angle counts from the second rise.
        let burr = |deg: f32| {
            let burr_nm = (10.0 - (deg - 300.0).abs()).max(0.0);
            Turn::steady(sound(deg) + burr_nm)
        };
        assert_eq!(turn(&mut OverAngle::new(&TORQUE), 404.0, burr), []);
    }

    #[test]
    fn a_further_angle_counts_from_its_start_torque() {
        let said = turn(&mut OverAngle::new(&FURTHER), 420.0, |deg| {
            Turn::steady(sound(deg))
        });
        // 20.8 N·m at 380°, 28.6° beyond.
        assert_eq!(kinds(&said), [FindingKind::OverAngle]);
        assert!((408.0..411.0).contains(&said[0].1), "{}", said[0].1);
    }

    /// 10° that strokes left open in the rundown lie before the mark and before the rise: they make no stop
    /// late. What is left open since does, by twice as much.
    #[test]
    fn only_what_is_open_since_the_mark_puts_the_stop_off() {
        let stop_deg = |goal: &Goal, since_rad: f32, at: fn(f32) -> f32| {
            let open = |deg: f32| {
                if deg < 390.0 {
                    0.17
                } else {
                    0.17_f32.hypot(since_rad)
                }
            };
            let said = turn_open(&mut OverAngle::new(goal), 490.0, open, |deg| {
                Turn::steady(at(deg))
            });
            assert_eq!(kinds(&said), [FindingKind::OverAngle]);
            said[0].1
        };
        let further_deg = stop_deg(&FURTHER, 0.0, sound);
        assert!((408.0..411.0).contains(&further_deg), "{further_deg}");
        let soft_deg = stop_deg(&TORQUE, 0.0, soft_rise);
        assert!((448.0..460.0).contains(&soft_deg), "{soft_deg}");
        let later_deg = stop_deg(&FURTHER, 0.05, sound);
        assert!((later_deg - further_deg - 5.7).abs() < 1.0, "{later_deg}");
    }
}
