//! The bolt and its tool: units, and the defaults that `examples/bolt.toml` states (common practice
//! unless a source stands beside them).

use bolting_monitor::procedure::{AxisLine, BoltJob, Mode, Sensing, Tare, Tool};

use super::judge::{Allowed, Judge, MORE_THAN_ZERO, ZERO_AND_MORE};
use super::schema::{self, AngleCounts, File};

/// Seats of a socket on the head where nothing is stated: both a hexagon's 60° and the 30° of
/// twelve points are whole multiples of it.
const SEAT_DEG: f32 = 30.0;
/// Play of a socket whose seats alone are stated, degrees (common practice, no source: 2 to 6).
const PLAY_DEG: f32 = 4.0;
/// Longest tool that an arm turns a bolt with, m: far beyond any (common practice, no source).
const LONGEST_TOOL_M: f64 = 5.0;
/// Part by which a joint may take more or less angle to its torque where no tolerance is stated: with
/// friction 0.08 instead of 0.14 an M10 takes 1.6 times the angle (long form of the torque–preload
/// relation), with 0.20 it takes 0.73 of it, and the joint is known no better than to some percent.
const FRICTION_PART: f64 = 0.65;

impl Judge<'_> {
    pub fn job(&mut self, file: &File) -> Option<BoltJob> {
        let run = &file.run;
        let name = heapless::String::try_from(file.name.get_ref().as_str()).ok();
        if name.is_none() {
            self.mistake(
                "name",
                file.name.span(),
                "is longer than 32 bytes: shorten it",
            );
        }
        let mode = match run.mode.get_ref() {
            schema::Mode::WristStrokes => Mode::WristStrokes,
            schema::Mode::PoweredSpindle => Mode::PoweredSpindle,
        };
        if mode == Mode::WristStrokes && file.arm.is_none() {
            let problem = "is \"wrist_strokes\", which only an arm can turn: give the table [arm]";
            self.mistake("run.mode", run.mode.span(), problem);
        }
        let goal = self.run_goal(run);
        let carried_nm = self.figure(
            "run.carried_torque_nm",
            &run.carried_torque_nm,
            MORE_THAN_ZERO,
        );
        let rundown_rad = self.expected(
            ["run.rundown_turns", "run.rundown_tolerance_turns"],
            [&run.rundown_turns, &run.rundown_tolerance_turns],
            std::f64::consts::TAU,
            |turns| (turns / 10.0).max(0.25),
        );
        let elastic_rad = self.expected(
            ["run.elastic_angle_deg", "run.elastic_tolerance_deg"],
            [&run.elastic_angle_deg, &run.elastic_tolerance_deg],
            1.0_f64.to_radians(),
            |degrees| FRICTION_PART * degrees,
        );
        let fastener = self.fastener(file, goal.and_then(|g| g.target_nm()));
        let mut tool = self.tool(&file.tool);
        // Lifted off and set down, a socket drives again whole seats behind, whatever it plays.
        let socket = tool.ratchet_tooth_rad.is_none() && file.tool.seat_angle_deg.is_some();
        if mode == Mode::WristStrokes && socket {
            tool.socket_play_rad.get_or_insert(PLAY_DEG.to_radians());
        }
        let bolt_axis = file.bolt_axis.as_ref().and_then(|line| {
            let point_m = self.column("bolt_axis.point_m", &line.point_m);
            let direction = self.direction("bolt_axis.direction", &line.direction);
            Some(AxisLine {
                point_m: point_m?,
                direction: direction?,
            })
        });
        let sensing = self.sensing(file);
        let duration_s = self
            .figure("tare.duration_s", &file.tare.duration_s, ZERO_AND_MORE)
            .unwrap_or(0.5);
        Some(BoltJob {
            name: name?,
            fastener: fastener?,
            goal: goal?,
            carried_nm,
            mode,
            rundown_rad,
            elastic_rad,
            tool,
            bolt_axis,
            sensing,
            tare: Tare { duration_s },
        })
    }

    fn tool(&mut self, tool: &schema::Tool) -> Tool {
        let angle = Allowed::FromZero(360.0);
        let axis = tool
            .axis
            .as_ref()
            .and_then(|axis| self.direction("tool.axis", axis));
        Tool {
            axis: axis.unwrap_or([0.0, 0.0, 1.0]),
            windup_nm_per_rad: self.figure(
                "tool.windup_nm_per_rad",
                &tool.windup_nm_per_rad,
                MORE_THAN_ZERO,
            ),
            ratchet_tooth_rad: self
                .figure("tool.ratchet_tooth_deg", &tool.ratchet_tooth_deg, angle)
                .filter(|degrees| *degrees > 0.0)
                .map(f32::to_radians),
            socket_play_rad: self
                .figure("tool.socket_play_deg", &tool.socket_play_deg, angle)
                .map(f32::to_radians),
            seat_rad: self
                .figure(
                    "tool.seat_angle_deg",
                    &tool.seat_angle_deg,
                    Allowed::AboveZero(360.0),
                )
                .unwrap_or(SEAT_DEG)
                .to_radians(),
            length_m: self
                .figure_or(
                    "tool.length_m",
                    &tool.length_m,
                    Allowed::FromZero(LONGEST_TOOL_M),
                    " m, is it in millimetres?",
                )
                .unwrap_or(0.0),
            side_moment_limit_nm: self.figure(
                "tool.side_moment_limit_nm",
                &tool.side_moment_limit_nm,
                MORE_THAN_ZERO,
            ),
        }
    }

    fn sensing(&mut self, file: &File) -> Sensing {
        let (spindle, wrist, prior) = (&file.spindle, &file.wrist_sensor, &file.prior);
        Sensing {
            spindle_noise_nm: self.figure(
                "spindle.torque_noise_nm",
                &spindle.torque_noise_nm,
                ZERO_AND_MORE,
            ),
            spindle_scale_u: self
                .figure(
                    "spindle.torque_u_percent",
                    &spindle.torque_u_percent,
                    ZERO_AND_MORE,
                )
                .unwrap_or(1.0)
                / 100.0,
            spindle_zero_u_nm: self
                .figure(
                    "spindle.torque_zero_u_nm",
                    &spindle.torque_zero_u_nm,
                    ZERO_AND_MORE,
                )
                .unwrap_or(0.0),
            spindle_angle_counts_driving: spindle.angle_counts == AngleCounts::Driving,
            wrist_force_u_n: self
                .figure("wrist_sensor.force_u_n", &wrist.force_u_n, MORE_THAN_ZERO)
                .unwrap_or(1.0),
            wrist_moment_u_nm: self
                .figure(
                    "wrist_sensor.moment_u_nm",
                    &wrist.moment_u_nm,
                    MORE_THAN_ZERO,
                )
                .unwrap_or(0.05),
            prior_force_n: self
                .figure("prior.force_n", &prior.force_n, MORE_THAN_ZERO)
                .unwrap_or(200.0),
            prior_moment_nm: self.figure("prior.moment_nm", &prior.moment_nm, MORE_THAN_ZERO),
        }
    }
}
