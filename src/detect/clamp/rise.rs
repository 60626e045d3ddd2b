//! The elastic part of the curve: how steep it has been and how steep it is.
//!
//! The stretches that are compared grow with the rise, so that a joint that takes a turn to its
//! target is judged as surely as one that takes a tenth of it.

use crate::curve::{BinnedCurve, Line};
use crate::math::sqrt;

use super::{RESTART_RAD, StepView};

/// Torque above the rundown from which the rise counts, as a part of the target (common practice,
/// no source: below, the parts still come together).
const LEFT_PART: f32 = 0.05;
/// Stretch that the steepest slope is taken over: part of the rise, and at least, rad (8°).
const STEEPEST_PART: f32 = 0.2;
const STEEPEST_RAD: f32 = 0.14;
/// Stretches of the slope of now: parts of the rise, and at least, rad (6°). The longer one sees
/// through a surface that wanders.
const NOW_PARTS: [f32; 2] = [0.125, 0.25];
const NOW_RAD: f32 = 0.105;
/// Angle over which torque wanders with the surface, rad (4°): points that are closer together are
/// not independent.
const WANDER_RAD: f32 = 0.07;
/// What the rundown has shown to wander over longer stretches goes on wandering. A line through a
/// stretch of twice its correlation tilts by 2.4 of its standard deviations over the stretch
/// (`sqrt(12/2)`), through a shorter or longer one by less.
const RUNDOWN_SCATTERS: f32 = 2.4;
/// Part of the torque's uncertainty that does not average out that may still change over a stretch.
const CHANGING_PART: f32 = 0.5;
/// The steepest slope counts less so many standard errors.
const CAUTION: f32 = 2.0;
/// Points below which a stretch has no slope.
const LEAST_POINTS: u32 = 4;

/// A slope with a standard error that reckons with wandering torque, N·m/rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Slope {
    pub value: f32,
    pub u: f32,
    /// Stretch that it was taken over, rad.
    pub over_rad: f32,
}

/// The rise since the torque left the rundown for good.
#[derive(Clone, Debug)]
pub(super) struct Rise {
    curve: BinnedCurve<64>,
    start_rad: Option<f32>,
    /// Steepest slope that was kept up so far, N·m/rad.
    pub steepest: f32,
}

impl Default for Rise {
    fn default() -> Self {
        Self {
            curve: BinnedCurve::new(0.0),
            start_rad: None,
            steepest: 0.0,
        }
    }
}

impl Rise {
    /// Takes in a completed step; the slopes of now over a shorter and a longer stretch, where
    /// there are.
    pub fn follow(&mut self, view: &StepView<'_>) -> [Option<Slope>; 2] {
        self.risen(view).unwrap_or_default()
    }

    fn risen(&mut self, view: &StepView<'_>) -> Option<[Option<Slope>; 2]> {
        let (step, expected) = (view.step, view.expected);
        let target_nm = expected.target_nm?;
        let ceiling_nm = if expected.ceiling_stated {
            expected.ceiling_nm
        } else {
            0.0
        };
        let usual_nm = view.level.mean_nm().unwrap_or(0.0).max(ceiling_nm);
        if view.window.mean_torque_nm(3) < usual_nm + LEFT_PART * target_nm {
            *self = Self::default();
            return None;
        }
        // A thread that is broken loose again overshoots; that is no slope of the joint.
        if step.since_stop_rad < RESTART_RAD || !step.observable {
            return None;
        }
        let start_rad = *self.start_rad.get_or_insert_with(|| {
            self.curve = BinnedCurve::new(step.angle_rad);
            step.angle_rad
        });
        self.curve.add(step);
        let risen_rad = step.angle_rad - start_rad;
        let change_nm = CHANGING_PART * step.systematic_u_nm + RUNDOWN_SCATTERS * view.level.scatter_nm();
        let steep = self.slope(risen_rad, STEEPEST_PART, STEEPEST_RAD, change_nm);
        if let Some(steep) = steep {
            self.steepest = self.steepest.max(steep.value - CAUTION * steep.u);
        }
        Some(NOW_PARTS.map(|part| self.slope(risen_rad, part, NOW_RAD, change_nm)))
    }

    fn slope(
        &self,
        risen_rad: f32,
        part: f32,
        least_rad: f32,
        change_nm: f32,
    ) -> Option<Slope> {
        let over_rad = (part * risen_rad).max(least_rad);
        if risen_rad < over_rad {
            return None;
        }
        let from_rad = self.start_rad? + risen_rad - over_rad;
        let points = self.curve.points().filter(|p| p.x >= from_rad);
        let line = Line::fit(points).filter(|l| l.count >= LEAST_POINTS)?;
        let apart_rad = over_rad / line.count as f32;
        let wanders = sqrt((WANDER_RAD / apart_rad).max(1.0));
        let (scatter, change) = (wanders * line.slope_u, change_nm / over_rad);
        Some(Slope {
            value: line.slope,
            u: sqrt(scatter * scatter + change * change),
            over_rad,
        })
    }
}
