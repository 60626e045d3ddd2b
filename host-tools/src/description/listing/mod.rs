//! What a description was read as: every figure with its unit, and which of them the file left out.

mod fastener;

use bolting_monitor::arm::ArmDescription;
use bolting_monitor::fastener::Band;
use bolting_monitor::procedure::{Direction, Expected, Goal, Mode, Procedure};

use crate::words::goal_words;

use super::{Description, Stated, origin};

/// One figure of a description.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Table and key of the file.
    pub key: String,
    /// The figure as it is used, with its unit.
    pub value: String,
    /// Where it comes from, if the file does not state the figure itself.
    pub default: Option<&'static str>,
}

const DEFAULT: &str = "default";
const UNKNOWN: &str = "unknown";

/// Every figure, in the order of the file. `stated` tells which of them the file holds.
pub fn listing(description: &Description, stated: &Stated) -> Vec<Entry> {
    let mut list = Listing {
        stated,
        entries: Vec::new(),
    };
    list.bolt(description);
    list.passes(&description.procedure);
    list.tool(description);
    if let Some(arm) = &description.arm {
        list.arm(arm);
    }
    list.sensors(description);
    list.entries
}

struct Listing<'a> {
    stated: &'a Stated,
    entries: Vec<Entry>,
}

impl Listing<'_> {
    fn add(&mut self, key: &str, value: impl Into<String>, default: &'static str) {
        let default = (!self.stated.has(key)).then_some(default);
        self.push(key, value.into(), default);
    }

    fn push(&mut self, key: &str, value: String, default: Option<&'static str>) {
        self.entries.push(Entry {
            key: key.to_owned(),
            value,
            default,
        });
    }

    fn maybe(&mut self, key: &str, value: Option<f32>, unit: &str) {
        let value = value.map_or(UNKNOWN.to_owned(), |x| with_unit(x, unit));
        self.add(key, value, DEFAULT);
    }

    fn expected(&mut self, keys: [&str; 2], window: Option<Expected>, unit: &str, size_rad: f32) {
        self.maybe(keys[0], window.map(|e| e.value / size_rad), unit);
        if let Some(e) = window {
            self.add(keys[1], with_unit(e.tolerance / size_rad, unit), DEFAULT);
        }
    }

    fn bolt(&mut self, description: &Description) {
        let job = &description.job;
        self.add("name", job.name.as_str(), DEFAULT);
        self.add("invented", description.invented.to_string(), DEFAULT);
        self.add("bolt.thread", job.fastener.thread.to_string(), DEFAULT);
        self.add(
            "bolt.pitch_mm",
            with_unit(job.fastener.thread.pitch_mm, "mm"),
            origin::pitch(&job.fastener.thread, self.stated),
        );
        self.add(
            "bolt.hand",
            if job.fastener.left_hand {
                "left"
            } else {
                "right"
            },
            DEFAULT,
        );
        self.fastener(&job.fastener);
        let mode = match job.mode {
            Mode::WristStrokes => "wrist_strokes",
            Mode::PoweredSpindle => "powered_spindle",
        };
        self.add("run.mode", mode, DEFAULT);
        self.goal(&job.goal);
        if job.carried_nm.is_some() {
            self.maybe("run.carried_torque_nm", job.carried_nm, "N·m");
        }
        self.expected(
            ["run.rundown_turns", "run.rundown_tolerance_turns"],
            job.rundown_rad,
            "turns",
            std::f32::consts::TAU,
        );
        self.expected(
            ["run.elastic_angle_deg", "run.elastic_tolerance_deg"],
            job.elastic_rad,
            "°",
            1f32.to_radians(),
        );
        let prevailing = match job.fastener.locking {
            Some(_) => job
                .fastener
                .prevailing_nm()
                .map_or(UNKNOWN.to_owned(), |band| {
                    format!("{} to {} N·m", number(band.min), number(band.max))
                }),
            None => format!("up to {} N·m", number(job.expected_run().ceiling_nm)),
        };
        self.add(
            "run.prevailing_torque_nm",
            prevailing,
            match job.fastener.locking {
                None => "ISO 2320 of the size, else from the target",
                locking => origin::prevailing(locking),
            },
        );
    }

    fn goal(&mut self, goal: &Goal) {
        const FROM_KEYS: &str = "from the other keys";
        let band = |b: Band| format!("{} to {} N·m", number(b.min), number(b.max));
        match *goal {
            Goal::Watch(Direction::Tighten) => {
                self.add("run.goal", "watch, doing up", FROM_KEYS);
            }
            Goal::Watch(Direction::Undo) => self.add("run.goal", "watch, undoing", FROM_KEYS),
            Goal::Torque {
                target_nm,
                tolerance,
            } => {
                self.add("run.goal", "torque", FROM_KEYS);
                self.maybe("run.target_torque_nm", Some(target_nm), "N·m");
                self.add(
                    "run.torque_tolerance_percent",
                    with_unit(100.0 * tolerance, "%"),
                    DEFAULT,
                );
            }
            Goal::TorqueThenAngle {
                start_nm,
                angle_rad,
                end_nm,
            } => {
                self.add("run.goal", "torque_then_angle", DEFAULT);
                self.maybe("run.start_torque_nm", Some(start_nm), "N·m");
                self.expected(
                    ["run.further_angle_deg", "run.further_tolerance_deg"],
                    Some(angle_rad),
                    "°",
                    1f32.to_radians(),
                );
                self.add("run.end_torque_nm", band(end_nm), DEFAULT);
            }
            Goal::Yield {
                slope_part,
                onset_nm,
            } => {
                self.add("run.goal", "yield", DEFAULT);
                self.add(
                    "run.yield_slope_percent",
                    with_unit(100.0 * slope_part, "%"),
                    DEFAULT,
                );
                self.add("run.end_torque_nm", band(onset_nm), DEFAULT);
            }
            Goal::Recheck {
                torque_nm,
                most_rad,
            } => {
                self.add("run.goal", "recheck", DEFAULT);
                self.maybe("run.target_torque_nm", Some(torque_nm), "N·m");
                self.maybe("run.most_angle_deg", Some(most_rad.to_degrees()), "°");
            }
            Goal::Loosen {
                recorded_nm,
                breakaway_nm,
                run_out_rad,
            } => {
                self.add("run.goal", "loosen", FROM_KEYS);
                self.maybe("run.recorded_torque_nm", recorded_nm, "N·m");
                self.add(
                    "run.breakaway_torque_nm",
                    breakaway_nm.map_or(UNKNOWN.to_owned(), band),
                    DEFAULT,
                );
                self.expected(
                    ["run.run_out_turns", "run.run_out_tolerance_turns"],
                    run_out_rad,
                    "turns",
                    std::f32::consts::TAU,
                );
            }
        }
    }

    /// The passes over a group, bolts counted from 1.
    fn passes(&mut self, procedure: &Procedure) {
        if procedure.bolts == 1 && procedure.passes.len() == 1 {
            return;
        }
        self.add("group.bolts", procedure.bolts.to_string(), DEFAULT);
        for i in 0..procedure.passes.len() as u8 {
            let order: Vec<_> = procedure
                .turns()
                .filter(|turn| turn.pass == i)
                .map(|turn| (turn.bolt + 1).to_string())
                .collect();
            let goal = procedure.goal(i).map_or(String::new(), goal_words);
            self.add(
                &format!("pass {}", i + 1),
                format!("{goal}; bolts {}", order.join(" ")),
                "from group and pass",
            );
        }
    }

    fn tool(&mut self, description: &Description) {
        let tool = &description.job.tool;
        self.add("tool.axis", column(&tool.axis, ""), DEFAULT);
        self.maybe("tool.windup_nm_per_rad", tool.windup_nm_per_rad, "N·m/rad");
        let tooth = tool
            .ratchet_tooth_rad
            .map_or("no ratchet".to_owned(), |r| with_unit(r.to_degrees(), "°"));
        self.add("tool.ratchet_tooth_deg", tooth, DEFAULT);
        let play = tool.socket_play_rad.map(f32::to_degrees);
        self.maybe("tool.socket_play_deg", play, "°");
        let seat = with_unit(tool.seat_rad.to_degrees(), "°");
        self.add("tool.seat_angle_deg", seat, DEFAULT);
        self.add("tool.length_m", with_unit(tool.length_m, "m"), DEFAULT);
        let side = description.job.side_moment_limit_nm();
        let side = side.map_or("none".to_owned(), |x| with_unit(x, "N·m"));
        self.add("tool.side_moment_limit_nm", side, "the target torque");
        if let Some(arm) = &description.arm {
            let (tool, payload) = (&arm.tool, &arm.payload);
            self.add("tool.mass_kg", with_unit(tool.mass_kg, "kg"), DEFAULT);
            self.add("tool.centre_of_mass_m", column(&tool.com_m, "m"), DEFAULT);
            self.add("payload.mass_kg", with_unit(payload.mass_kg, "kg"), DEFAULT);
            self.add(
                "payload.centre_of_mass_m",
                column(&payload.com_m, "m"),
                DEFAULT,
            );
        }
        match &description.job.bolt_axis {
            Some(line) => {
                self.add("bolt_axis.point_m", column(&line.point_m, "m"), DEFAULT);
                self.add("bolt_axis.direction", column(&line.direction, ""), DEFAULT);
            }
            None => self.add("bolt_axis", "the tool's own axis at the tare", DEFAULT),
        }
    }

    fn arm(&mut self, arm: &ArmDescription) {
        let names: Vec<_> = arm.joints.iter().map(|j| j.name.as_str()).collect();
        self.add("arm.urdf", format!("joints {}", names.join(", ")), DEFAULT);
        self.add(
            "arm.gravity_m_s2",
            column(&arm.gravity_m_s2, "m/s²"),
            DEFAULT,
        );
        let noise: Option<Vec<f32>> = arm.joints.iter().map(|j| j.torque_noise_nm).collect();
        let noise = noise.map_or("taken from the tare".to_owned(), |x| column(&x, "N·m"));
        self.add("arm.joint_torque_noise_nm", noise, DEFAULT);
        let range: Option<Vec<f32>> = arm.joints.iter().map(|j| j.torque_range_nm).collect();
        let range = range.map_or(UNKNOWN.to_owned(), |x| column(&x, "N·m"));
        self.add("arm.joint_torque_range_nm", range, DEFAULT);
        let each = |of: fn(&bolting_monitor::arm::JointDescription) -> f32, unit| {
            let figures: Vec<f32> = arm.joints.iter().map(of).collect();
            column(&figures, unit)
        };
        let urdf = "URDF <dynamics>, else 0";
        let quarter = "a quarter of it";
        self.add(
            "arm.coulomb_friction_nm",
            each(|j| j.friction.coulomb_nm, "N·m"),
            urdf,
        );
        self.add(
            "arm.coulomb_friction_u_nm",
            each(|j| j.friction.coulomb_u_nm, "N·m"),
            "a quarter of it, at least 0.1",
        );
        self.add(
            "arm.viscous_friction_nm_s_per_rad",
            each(|j| j.friction.viscous_nm_s_per_rad, "N·m·s/rad"),
            urdf,
        );
        self.add(
            "arm.viscous_friction_u_nm_s_per_rad",
            each(|j| j.friction.viscous_u_nm_s_per_rad, "N·m·s/rad"),
            quarter,
        );
        self.add(
            "arm.torque_zero_u_nm",
            each(|j| j.torque_zero_u_nm, "N·m"),
            DEFAULT,
        );
        self.add(
            "arm.mass_u_percent",
            with_unit(100.0 * arm.mass_u, "%"),
            DEFAULT,
        );
    }

    fn sensors(&mut self, description: &Description) {
        let (sensing, tare) = (&description.job.sensing, &description.job.tare);
        let counts = if sensing.spindle_angle_counts_driving {
            "driving"
        } else {
            "clockwise"
        };
        self.add("spindle.angle_counts", counts, DEFAULT);
        let noise = sensing
            .spindle_noise_nm
            .map_or("taken from the tare".to_owned(), |x| with_unit(x, "N·m"));
        self.add("spindle.torque_noise_nm", noise, DEFAULT);
        let figures = [
            (
                "spindle.torque_u_percent",
                100.0 * sensing.spindle_scale_u,
                "%",
            ),
            ("spindle.torque_zero_u_nm", sensing.spindle_zero_u_nm, "N·m"),
            ("wrist_sensor.force_u_n", sensing.wrist_force_u_n, "N"),
            ("wrist_sensor.moment_u_nm", sensing.wrist_moment_u_nm, "N·m"),
            ("prior.force_n", sensing.prior_force_n, "N"),
        ];
        for (key, value, unit) in figures {
            self.add(key, with_unit(value, unit), DEFAULT);
        }
        let prior = sensing.prior_moment_nm.map_or_else(
            || "three times the target torque, at least 30 N·m".to_owned(),
            |x| with_unit(x, "N·m"),
        );
        self.add("prior.moment_nm", prior, DEFAULT);
        self.add("tare.duration_s", with_unit(tare.duration_s, "s"), DEFAULT);
    }
}

/// Six digits at most: what the file said, not the tail that f32 adds.
fn number(x: f32) -> String {
    let digits = format!("{x:.5e}").parse::<f64>().unwrap_or(f64::from(x));
    digits.to_string()
}

fn with_unit(x: f32, unit: &str) -> String {
    format!("{} {unit}", number(x))
}

fn column(figures: &[f32], unit: &str) -> String {
    let figures: Vec<_> = figures.iter().copied().map(number).collect();
    format!("[{}] {unit}", figures.join(", "))
        .trim_end()
        .to_owned()
}
