//! The fastener: thread, materials, friction, joint and locking feature.

use std::ops::Range;

use bolting_monitor::fastener::{
    Band, Clamp, Designation, Fastener, Fault, Friction, FrictionClass, Joint, JointClass, Locking,
    Material, Mating, PropertyClass, Severity, Thread, ThreadSystem,
};
use bolting_monitor::procedure::{BoltJob, Procedure, Turn};
use toml::Spanned;

use super::judge::{Allowed, Judge, MORE_THAN_ZERO, ZERO_AND_MORE};
use super::schema::{self, File, Hand};
use crate::words::fault_words;

/// How far a stated pitch may lie from the one that the designation names: threads per inch make no
/// round millimetres.
const PITCH_ROUNDING_MM: f64 = 0.005;
/// Young's modulus of parts that are not stated, GPa: steel.
const STEEL_GPA: f32 = 205.0;
/// Largest coefficient of friction that is taken for one: dry metal that galls (common practice, no
/// source).
const MOST_FRICTION: f64 = 1.0;
/// Shear strength as a part of tensile strength where it is not stated (common practice for steel,
/// no source).
const SHEAR_PART: f32 = 0.6;

impl Judge<'_> {
    pub fn fastener(&mut self, file: &File, target_nm: Option<f32>) -> Option<Fastener> {
        let thread = self.thread(&file.bolt);
        // Only the 8.8 of ISO 898-1 asks for the size; any will do where it is a mistake.
        let diameter_mm = thread.map_or(10.0, |t| t.diameter_mm);
        let bolt = self.material("bolt", &file.bolt.class, &file.bolt.material, diameter_mm);
        let mating = file.mating.as_ref().and_then(|mating| {
            let engagement_mm = self.figure(
                "mating.engagement_mm",
                &mating.engagement_mm,
                MORE_THAN_ZERO,
            );
            if mating.engagement_mm.is_none() {
                let problem = "is missing: give the length of thread in mesh when tight";
                self.mistake("mating.engagement_mm", file.bolt.thread.span(), problem);
            }
            let material = self.material("mating", &mating.class, &mating.material, diameter_mm);
            if mating.class.is_none() && mating.material.is_none() {
                let problem = "is missing: give mating.class or mating.material";
                self.mistake("mating", file.bolt.thread.span(), problem);
            }
            Some(Mating {
                material: material?,
                engagement_mm: engagement_mm?,
            })
        });
        let friction = self.friction(&file.bolt);
        let bearing_mm = self.figure("bolt.bearing_mm", &file.bolt.bearing_mm, MORE_THAN_ZERO);
        let rundown_mm = self.figure("bolt.rundown_mm", &file.bolt.rundown_mm, MORE_THAN_ZERO);
        let joint = file
            .joint
            .as_ref()
            .and_then(|joint| self.joint(joint, file));
        let locking = self.locking(file, target_nm);
        Some(Fastener {
            thread: thread?,
            left_hand: file.bolt.hand == Hand::Left,
            bolt,
            mating,
            friction,
            bearing_mm,
            joint,
            locking,
            rundown_mm,
        })
    }

    fn thread(&mut self, bolt: &schema::Bolt) -> Option<Thread> {
        let designation = bolt.thread.get_ref();
        let parsed: Designation = match designation.parse() {
            Ok(parsed) => parsed,
            Err(error) => {
                let problem = format!("is \"{designation}\", {error}");
                self.mistake("bolt.thread", bolt.thread.span(), problem);
                return None;
            }
        };
        if parsed.left_hand && bolt.hand != Hand::Left {
            let problem = format!("is \"{designation}\", left-hand: state hand = \"left\" as well");
            self.mistake("bolt.thread", bolt.thread.span(), problem);
        }
        let thread = parsed.thread;
        let Some(pitch) = &bolt.pitch_mm else {
            return Some(thread);
        };
        let pitch_mm = *pitch.get_ref();
        if (pitch_mm - f64::from(thread.pitch_mm)).abs() < PITCH_ROUNDING_MM {
            return Some(thread);
        }
        let stated_twice =
            thread.system == ThreadSystem::Unified || designation.contains(['x', 'X', '×']);
        let problem = if stated_twice {
            format!("contradicts \"{designation}\": give the pitch once")
        } else {
            match format!("M{}x{pitch_mm}", thread.diameter_mm).parse::<Thread>() {
                Ok(stated) => return Some(stated),
                Err(error) => format!("is {pitch_mm}, {error}"),
            }
        };
        self.mistake("bolt.pitch_mm", pitch.span(), problem);
        None
    }

    fn material(
        &mut self,
        table: &str,
        class: &Option<Spanned<String>>,
        material: &Option<Spanned<schema::Material>>,
        diameter_mm: f32,
    ) -> Option<Material> {
        if let (Some(class), Some(_)) = (class, material) {
            let problem = "stands beside a material: keep one of the two";
            self.mistake(&format!("{table}.class"), class.span(), problem);
            return None;
        }
        if let Some(class) = class {
            return match class.get_ref().parse::<PropertyClass>() {
                Ok(parsed) => Some(parsed.material(diameter_mm)),
                Err(error) => {
                    let problem = format!("is \"{}\", {error}", class.get_ref());
                    self.mistake(&format!("{table}.class"), class.span(), problem);
                    None
                }
            };
        }
        let of = material.as_ref()?.get_ref();
        let key = |key: &str| format!("{table}.material.{key}");
        let yield_mpa = self.stated(&key("yield_mpa"), &of.yield_mpa);
        let tensile_mpa = self.stated(&key("tensile_mpa"), &of.tensile_mpa);
        let proof_mpa = self.figure(&key("proof_mpa"), &of.proof_mpa, MORE_THAN_ZERO);
        let modulus_gpa = self.stated(&key("modulus_gpa"), &of.modulus_gpa);
        let shear_part = self
            .figure(&key("shear_part"), &of.shear_part, Allowed::AboveZero(1.0))
            .unwrap_or(SHEAR_PART);
        Some(Material {
            yield_mpa: yield_mpa?,
            tensile_mpa: tensile_mpa?,
            proof_mpa,
            modulus_gpa: modulus_gpa?,
            shear_part,
        })
    }

    fn stated(&mut self, key: &str, figure: &Spanned<f64>) -> Option<f32> {
        match MORE_THAN_ZERO.problem(*figure.get_ref()) {
            None => Some(*figure.get_ref() as f32),
            Some(problem) => {
                self.mistake(key, figure.span(), problem);
                None
            }
        }
    }

    fn friction(&mut self, bolt: &schema::Bolt) -> Option<Friction> {
        let band = |judge: &mut Self, key: &str, band: &Option<Spanned<schema::Band>>| {
            let band = band.as_ref()?;
            let (min, max) = (band.get_ref().min, band.get_ref().max);
            match [min, max].into_iter().find(|x| *x > MOST_FRICTION) {
                Some(x) => {
                    let problem = format!(
                        "holds {x}: coefficients of friction lie between 0 and {MOST_FRICTION}, usual ones below 0.4"
                    );
                    judge.mistake(key, band.span(), problem);
                    None
                }
                None => judge.band(key, band),
            }
        };
        let thread = band(self, "bolt.thread_friction", &bolt.thread_friction);
        let head = band(self, "bolt.head_friction", &bolt.head_friction);
        if let (Some(class), true) = (
            &bolt.friction_class,
            bolt.thread_friction.is_some() || bolt.head_friction.is_some(),
        ) {
            let problem = "stands beside stated friction: keep one of the two";
            self.mistake("bolt.friction_class", class.span(), problem);
            return None;
        }
        let by_class = match bolt.friction_class.as_ref().map(|class| *class.get_ref()) {
            Some(schema::FrictionClass::A) => Some(FrictionClass::A),
            Some(schema::FrictionClass::B) => Some(FrictionClass::B),
            Some(schema::FrictionClass::C) => Some(FrictionClass::C),
            Some(schema::FrictionClass::D) => Some(FrictionClass::D),
            Some(schema::FrictionClass::E) => Some(FrictionClass::E),
            None => None,
        };
        match (thread, head) {
            (None, None) => by_class.map(Friction::from),
            // What is said of one says more of the other than nothing does.
            (Some(one), None) | (None, Some(one)) => Some(Friction {
                thread: one,
                head: one,
            }),
            (Some(thread), Some(head)) => Some(Friction { thread, head }),
        }
    }

    fn joint(&mut self, joint: &schema::Joint, file: &File) -> Option<Joint> {
        let figure = |judge: &mut Self, key: &str, value: &schema::Figure, allowed| {
            judge.figure(&format!("joint.{key}"), value, allowed)
        };
        let bolt_n_per_m = figure(self, "bolt_n_per_m", &joint.bolt_n_per_m, MORE_THAN_ZERO);
        let parts_n_per_m = figure(self, "parts_n_per_m", &joint.parts_n_per_m, MORE_THAN_ZERO);
        let length_mm = figure(self, "length_mm", &joint.length_mm, MORE_THAN_ZERO);
        let shank_mm = figure(self, "shank_mm", &joint.shank_mm, ZERO_AND_MORE);
        let parts_gpa = figure(self, "parts_gpa", &joint.parts_gpa, MORE_THAN_ZERO);
        let stiffness = joint.bolt_n_per_m.is_some() || joint.parts_n_per_m.is_some();
        let ways = [joint.class.is_some(), stiffness, joint.length_mm.is_some()];
        let place = || {
            [&joint.bolt_n_per_m, &joint.parts_n_per_m, &joint.length_mm]
                .into_iter()
                .find_map(|f| f.as_ref().map(Spanned::span))
                .unwrap_or_else(|| file.bolt.thread.span())
        };
        if ways.iter().filter(|way| **way).count() != 1 {
            let problem = "must be told in one way: class, or bolt_n_per_m with parts_n_per_m, or length_mm with what belongs to it";
            self.mistake("joint", place(), problem);
            return None;
        }
        let stranger = [&joint.shank_mm, &joint.parts_gpa]
            .into_iter()
            .find_map(|f| f.as_ref().map(Spanned::span));
        if let (Some(span), None) = (stranger, &joint.length_mm) {
            let problem = "has a figure that belongs to length_mm: leave it out, or give length_mm";
            self.mistake("joint", span, problem);
        }
        if let Some(class) = joint.class {
            return Some(Joint::Class(match class {
                schema::JointClass::Hard => JointClass::Hard,
                schema::JointClass::Medium => JointClass::Medium,
                schema::JointClass::Soft => JointClass::Soft,
            }));
        }
        if stiffness {
            if joint.bolt_n_per_m.is_none() || joint.parts_n_per_m.is_none() {
                let problem = "needs both bolt_n_per_m and parts_n_per_m";
                self.mistake("joint", place(), problem);
            }
            return Some(Joint::Stiffness {
                bolt_n_per_m: bolt_n_per_m?,
                parts_n_per_m: parts_n_per_m?,
            });
        }
        Some(Joint::Clamp(Clamp {
            length_mm: length_mm?,
            shank_mm: shank_mm.unwrap_or(0.0),
            parts_gpa: parts_gpa.unwrap_or(STEEL_GPA),
            nut: joint.nut,
        }))
    }

    /// Left out, it stays unknown here: the core knows what the standard says of the size.
    fn locking(&mut self, file: &File, target_nm: Option<f32>) -> Option<Locking> {
        if let Some(spanned) = &file.run.prevailing_torque_nm {
            if let Some(locking) = &file.locking {
                let problem = "stands beside run.prevailing_torque_nm: keep one of the two";
                self.mistake("locking.feature", locking.feature.span(), problem);
            }
            return self.stated_locking(spanned, target_nm);
        }
        let locking = file.locking.as_ref()?;
        if locking.reused && matches!(locking.feature.get_ref(), schema::Feature::None) {
            let problem = "has no meaning without a locking feature: leave it out";
            self.mistake("locking.reused", locking.feature.span(), problem);
        }
        Some(match locking.feature.get_ref() {
            schema::Feature::None => Locking::Free,
            schema::Feature::Standard => Locking::Standard {
                reused: locking.reused,
            },
        })
    }

    fn stated_locking(
        &mut self,
        spanned: &Spanned<schema::Band>,
        target_nm: Option<f32>,
    ) -> Option<Locking> {
        let band: Band = self.band("run.prevailing_torque_nm", spanned)?;
        if let Some(target) = target_nm.filter(|target| band.max >= *target) {
            let problem = format!(
                "reaches {}, the target is {target}: no snug point could be told",
                band.max
            );
            self.mistake("run.prevailing_torque_nm", spanned.span(), problem);
            return None;
        }
        Some(Locking::Stated(band))
    }

    /// What physics forbids in any pass is a mistake; what practice questions is told.
    pub fn possible(
        &mut self,
        file: &File,
        job: &BoltJob,
        procedure: &Procedure,
        notices: &mut Vec<String>,
    ) {
        let mut told: Vec<Fault> = Vec::new();
        for pass in 0..procedure.passes.len() as u8 {
            let Some(job) = procedure.job(job, Turn { pass, bolt: 0 }) else {
                continue;
            };
            for fault in job.fastener_faults() {
                if told.contains(&fault) {
                    continue;
                }
                told.push(fault);
                let (key, span) = place(file, &fault, usize::from(pass));
                match fault.severity {
                    Severity::Refused => {
                        self.mistake(key, span, format!("is impossible: {}", fault_words(&fault)));
                    }
                    Severity::Warned => {
                        notices.push(format!(
                            "line {}: {key}: {}",
                            self.line(&span),
                            fault_words(&fault)
                        ));
                    }
                }
            }
        }
    }
}

/// Key and place in the file of what a fault speaks of; `pass` from 0.
fn place(file: &File, fault: &Fault, pass: usize) -> (&'static str, Range<usize>) {
    let bolt = &file.bolt;
    let at = |key: &'static str, span: Option<Range<usize>>| {
        (key, span.unwrap_or_else(|| bolt.thread.span()))
    };
    let figure = |figure: &schema::Figure| figure.as_ref().map(Spanned::span);
    let mating = file.mating.as_ref();
    let joint = file.joint.as_ref();
    let stated_pass = file.pass.get(pass).map(super::passes::place_of);
    let run_target = || figure(&file.run.target_torque_nm);
    let class = |class: &Option<Spanned<String>>, material: &Option<Spanned<schema::Material>>| {
        let material = material.as_ref().map(Spanned::span);
        material.or(class.as_ref().map(Spanned::span))
    };
    match (fault.part, fault.key) {
        ("bolt", _) => at("bolt.material", class(&bolt.class, &bolt.material)),
        ("mating", "engagement_mm") => at(
            "mating.engagement_mm",
            mating.and_then(|m| figure(&m.engagement_mm)),
        ),
        ("mating", _) => at(
            "mating.material",
            mating.and_then(|m| class(&m.class, &m.material)),
        ),
        ("target" | "window", "torque_nm" | "yield_torque_nm" | "breakaway_torque_nm") => {
            match stated_pass {
                Some(span) => at("pass", Some(span)),
                None => at("run.target_torque_nm", run_target()),
            }
        }
        ("window", "rundown_rad") => at("run.rundown_turns", figure(&file.run.rundown_turns)),
        ("window", _) => at("run.elastic_angle_deg", figure(&file.run.elastic_angle_deg)),
        ("locking", _) => match &file.run.prevailing_torque_nm {
            Some(band) => at("run.prevailing_torque_nm", Some(band.span())),
            None => at(
                "locking.feature",
                file.locking.as_ref().map(|l| l.feature.span()),
            ),
        },
        ("friction", key) if key.starts_with("head") => at(
            "bolt.head_friction",
            bolt.head_friction.as_ref().map(Spanned::span),
        ),
        ("friction", _) => at(
            "bolt.thread_friction",
            bolt.thread_friction.as_ref().map(Spanned::span),
        ),
        ("joint", _) => at(
            "joint",
            joint.and_then(|j| {
                figure(&j.length_mm)
                    .or(figure(&j.bolt_n_per_m))
                    .or(figure(&j.parts_n_per_m))
            }),
        ),
        ("fastener", "bearing_mm") => at("bolt.bearing_mm", figure(&bolt.bearing_mm)),
        ("fastener", "rundown_mm") => at("bolt.rundown_mm", figure(&bolt.rundown_mm)),
        _ => at("bolt.thread", None),
    }
}
