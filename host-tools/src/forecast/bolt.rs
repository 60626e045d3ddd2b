//! Figures of the bolt and its joint, whatever torque it is to get.

use bolting_monitor::fastener::{Fastener, Forecast, Material, Thread, ThreadSystem};

use super::figure::{Figure, Untold};
use crate::description::Stated;
use crate::description::origin::{self, MaterialOrigin, STATED};

/// How tension and torsion are put together.
const LONG_FORM: &str = "VDI 2230 (torsion fully plastic)";

/// Every figure that the description tells.
pub fn figures(fastener: &Fastener, stated: &Stated) -> Vec<Figure> {
    let mut figures = thread(fastener, stated);
    if let Some(bolt) = &fastener.bolt {
        figures.extend(strength(bolt, &fastener.thread, stated));
    }
    if let Some(mating) = &fastener.mating {
        let origin = MaterialOrigin::of("mating", stated);
        figures.extend([
            Figure::exact(["engagement", "thread in mesh"], mating.engagement_mm, "mm")
                .from(STATED),
            Figure::exact(
                [
                    "mating_tensile_strength",
                    "tensile strength of the mating part",
                ],
                mating.material.tensile_mpa,
                "MPa",
            )
            .from(origin.tensile),
        ]);
    }
    figures.extend(friction(fastener, stated));
    figures.extend(limits(fastener));
    figures
}

fn thread(fastener: &Fastener, stated: &Stated) -> Vec<Figure> {
    let thread = &fastener.thread;
    let metric = thread.system == ThreadSystem::Metric;
    let (area, area_source) = if metric {
        ("π/4·(d − 0.9382·P)²", "ISO 898-1, clause 9")
    } else {
        ("π/4·(d − 0.9743·P)²", "ASME B1.1")
    };
    let profile = "basic profile, ISO 724 and ASME B1.1";
    let bearing_mm = fastener.torque_preload().bearing_mm;
    let formula = if fastener.bearing_mm.is_some() {
        ""
    } else {
        "(dw + dh)/2"
    };
    vec![
        Figure::exact(["pitch", "pitch P"], thread.pitch_mm, "mm")
            .from(origin::pitch(thread, stated)),
        Figure::exact(
            ["pitch_diameter", "pitch diameter d2"],
            thread.pitch_diameter_mm(),
            "mm",
        )
        .by("d − 0.6495·P")
        .from(profile),
        Figure::exact(
            ["root_diameter", "root diameter d3"],
            thread.root_diameter_mm(),
            "mm",
        )
        .by("d − 1.2269·P")
        .from(profile),
        Figure::exact(
            ["stress_area", "stress area As"],
            thread.stress_area_mm2(),
            "mm²",
        )
        .by(area)
        .from(area_source),
        Figure::exact(
            ["bearing_diameter", "mean bearing diameter DKm"],
            bearing_mm,
            "mm",
        )
        .by(formula)
        .from(origin::bearing(fastener)),
    ]
}

fn strength(bolt: &Material, thread: &Thread, stated: &Stated) -> Vec<Figure> {
    let origin = MaterialOrigin::of("bolt", stated);
    let core = |f: Figure, source: &str| {
        f.from(format!(
            "{source}; least core: 0.616·P below the least pitch diameter of 6g or 2A"
        ))
    };
    let forecast = |f: fn(&Forecast) -> Option<f32>| {
        let mut fastener = Fastener::new(*thread);
        fastener.bolt = Some(*bolt);
        f(&Forecast::of(&fastener, None))
    };
    let mut figures = vec![
        Figure::exact(
            ["yield_strength", "yield strength Rp"],
            bolt.yield_mpa,
            "MPa",
        )
        .from(origin.yielding),
        Figure::exact(
            ["tensile_strength", "tensile strength Rm"],
            bolt.tensile_mpa,
            "MPa",
        )
        .from(origin.tensile),
        Figure::exact(["modulus", "Young's modulus E"], bolt.modulus_gpa, "GPa")
            .from(origin.modulus),
        Figure::exact(
            ["shear_part", "shear strength as part of Rm"],
            bolt.shear_part,
            "",
        )
        .from(origin.shear),
    ];
    if let (Some(proof_mpa), Some(load_n)) = (bolt.proof_mpa, bolt.proof_load_n(thread)) {
        figures.extend([
            Figure::exact(
                ["proof_stress", "stress under proof load Sp"],
                proof_mpa,
                "MPa",
            )
            .from(origin.yielding),
            Figure::exact(["proof_load", "proof load"], 1e-3 * load_n, "kN")
                .by("Sp·As")
                .from("ISO 898-1, clause 9"),
        ]);
    }
    figures.push(
        Figure::exact(
            ["ultimate_load", "least ultimate tensile load"],
            1e-3 * bolt.ultimate_load_n(thread),
            "kN",
        )
        .by("Rm·As")
        .from("ISO 898-1, clause 9"),
    );
    figures.extend(forecast(|f| f.torsion_yield_nm).map(|nm| {
        core(
            Figure::exact(
                ["torsion_yield_torque", "yields in pure torsion"],
                nm,
                "N·m",
            )
            .by("Rp/√3·π/12·d³"),
            "von Mises, fully plastic",
        )
    }));
    figures.extend(forecast(|f| f.torsion_breaking_nm).map(|nm| {
        core(
            Figure::exact(
                ["torsion_breaking_torque", "breaks in pure torsion"],
                nm,
                "N·m",
            )
            .by("τB·π/12·d³"),
            "ISO 898-7",
        )
    }));
    figures
}

fn friction(fastener: &Fastener, stated: &Stated) -> [Figure; 3] {
    let friction = fastener.friction.unwrap_or_default();
    let origin = |key| origin::friction(key, fastener, stated);
    [
        Figure::band(
            ["thread_friction", "friction in the thread μt"],
            friction.thread,
            "",
        )
        .from(origin("bolt.thread_friction")),
        Figure::band(
            ["head_friction", "friction under the head μh"],
            friction.head,
            "",
        )
        .from(origin("bolt.head_friction")),
        Figure::band(
            ["nut_factor", "nut factor K"],
            fastener.torque_preload().nut_factor(&friction),
            "",
        )
        .by("T/(F·d) = [P/2π + μt·d2/(2·cos 30°) + μh·DKm/2]/d")
        .from("ISO 16047 and VDI 2230"),
    ]
}

/// Torques that end a run, and the engagement that decides between them.
fn limits(fastener: &Fastener) -> Vec<Figure> {
    let forecast = Forecast::of(fastener, None);
    let at = |name, band, formula, source: &str| {
        Figure::band(name, band, "N·m")
            .by(formula)
            .from(format!("{source}; prevailing torque included"))
    };
    [
        forecast.yield_nm.map(|band| {
            at(
                ["yield_torque", "torque at yield onset"],
                band,
                "F·k, F = As·Rp/√(1 + 3·(τ/σ)²)",
                LONG_FORM,
            )
        }),
        forecast.breaking_nm.map(|band| {
            at(
                ["breaking_torque", "torque that breaks the bolt"],
                band,
                "the same with Rm",
                "form of VDI 2230, taken to Rm by this library (no source)",
            )
        }),
        forecast.strip_nm.map(|band| {
            at(
                ["strip_torque", "torque that strips the weaker thread"],
                band,
                "shear strength·shear area·k",
                "FED-STD-H28/2, and Alexander's factors (SAE 770420, from memory)",
            )
        }),
        forecast.engagement_needed_mm.map(|mm| {
            Figure::exact(
                [
                    "engagement_needed",
                    "engagement at which the bolt breaks first",
                ],
                mm,
                "mm",
            )
            .by("2·As/ASs·max(J, 1)")
            .from("FED-STD-H28/2 (factor J from memory)")
        }),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// What the description does not tell of the bolt.
pub fn untold(fastener: &Fastener) -> Vec<Untold> {
    let mut untold = Vec::new();
    let mut note = |missing: bool, figures, state| {
        if missing {
            untold.push(Untold { figures, state });
        }
    };
    note(
        fastener.bolt.is_none(),
        "strength of the bolt; torque at yield onset and at breaking",
        "bolt.class, or bolt.material",
    );
    note(
        fastener.mating.is_none(),
        "strip torque and engagement needed",
        "mating.engagement_mm with mating.class or mating.material",
    );
    note(
        fastener.friction.is_none(),
        "friction: a usual class is reckoned with",
        "bolt.friction_class, or bolt.thread_friction and bolt.head_friction",
    );
    note(
        fastener.locking.is_none(),
        "prevailing torque: anything up to the largest is reckoned with",
        "locking.feature, or run.prevailing_torque_nm",
    );
    untold
}
