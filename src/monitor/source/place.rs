//! Where the tool stands about and along the bolt.

use crate::arm::Transform;
use crate::math::{IDENTITY, Mat3, Vec3, dot, mat_mul, norm, rotate, scale, sub, transposed};
use crate::turn::Twist;
use crate::wrench::MomentAxis;

use super::Lines;

/// Time constant of the tip's velocity, s: the quanta of the encoders pass.
const TIP_VELOCITY_S: f32 = 0.1;
/// Speed of the tip away from or along the bolt axis above which its tool is on no bolt, m/s: a
/// coarse thread turned once a second advances by a tenth of it, a hand that turns wanders by less.
const FREE_MOTION_M_S: f32 = 0.03;

/// Follows the tip since the first pose.
#[derive(Clone, Debug)]
pub(super) struct Place {
    twist: Option<Twist>,
    /// Pose at the start, against which twist and advance count.
    reference: (Mat3, Vec3),
    /// Position of the tip along the bolt axis and distance from it, m, and their rates, m/s.
    last_place_m: Option<[f32; 2]>,
    place_m_s: [f32; 2],
}

impl Place {
    /// Before the first pose.
    pub const UNKNOWN: Self = Self {
        twist: None,
        reference: (IDENTITY, [0.0; 3]),
        last_place_m: None,
        place_m_s: [0.0; 2],
    };

    /// Rotation of the tool about the bolt, rad, and position along it, m, since the first pose.
    pub fn twist_and_advance(&mut self, tip: &Transform, lines: &Lines) -> (f32, f32) {
        let (rotation, tip_m) = (&tip.rotation, &tip.translation_m);
        if self.twist.is_none() {
            self.reference = (*rotation, *tip_m);
        }
        let (reference, origin_m) = &self.reference;
        // About a line in space the twist comes last, about the tool's own axis it comes first;
        // so the first is taken in the base frame, the second in the tool's.
        let (since, axis, along) = match lines.bolt {
            Some(line) => (
                mat_mul(rotation, &transposed(reference)),
                line.direction,
                line.direction,
            ),
            None => (
                mat_mul(&transposed(reference), rotation),
                lines.tool_axis,
                rotate(reference, &lines.tool_axis),
            ),
        };
        let twist = self.twist.get_or_insert(Twist::new(axis));
        (twist.angle_rad(&since), dot(&sub(tip_m, origin_m), &along))
    }

    /// Follows the tip along and away from the bolt axis; whether it travels as only a tool does that is
    /// off the bolt. A tool on its bolt does neither, whatever its shape; going round the axis tells nothing.
    pub fn is_free(&mut self, tip: &Transform, lines: &Lines, dt_s: f32) -> bool {
        let (reference, origin_m) = &self.reference;
        let line = lines.bolt.unwrap_or(MomentAxis {
            point_m: *origin_m,
            direction: rotate(reference, &lines.tool_axis),
        });
        let (along_m, away_m) = place(&line, &tip.translation_m);
        let now_m = [along_m, away_m];
        if let (Some(last_m), true) = (self.last_place_m, dt_s > 0.0) {
            let share = dt_s / (dt_s + TIP_VELOCITY_S);
            for ((rate, now), last) in self.place_m_s.iter_mut().zip(&now_m).zip(&last_m) {
                *rate += ((now - last) / dt_s - *rate) * share;
            }
        }
        self.last_place_m = Some(now_m);
        let [along_m_s, away_m_s] = self.place_m_s;
        let square = along_m_s * along_m_s + away_m_s * away_m_s;
        square > FREE_MOTION_M_S * FREE_MOTION_M_S
    }
}

/// Position of a point along a line and its distance from it, m.
pub(super) fn place(line: &MomentAxis, point_m: &Vec3) -> (f32, f32) {
    let from_m = sub(point_m, &line.point_m);
    let along_m = dot(&from_m, &line.direction);
    let away_m = norm(&sub(&from_m, &scale(&line.direction, along_m)));
    (along_m, away_m)
}
