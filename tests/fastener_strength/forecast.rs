//! Stiffness, forecast and corridor.

use bolting_monitor::fastener::{
    Band, Clamp, Fastener, Forecast, Friction, Joint, JointClass, Locking, Preload, Thread,
    TorquePreload,
};

use crate::{flange_bolt, near, thread};

/// The cone formula, with a face of 1.5·d on a hole of d, against the finite-element fit of Wileman,
/// Choudhury and Green (1991), `k = E·d·0.78715·exp(0.62873·d/l)` for steel (constants from memory):
/// Shigley prints both as alternatives (eq. 8-22, 8-23).
#[test]
fn clamped_parts_are_as_stiff_as_a_published_finite_element_fit_says() {
    let thread = Thread::unified(0.5, 20.0);
    for diameters in [1.0_f32, 1.5, 2.0, 3.0, 4.0] {
        let clamp = Clamp {
            length_mm: diameters * thread.diameter_mm,
            shank_mm: 0.0,
            parts_gpa: 207.0,
            nut: true,
        };
        let stiffness = 1.0 / clamp.parts_m_per_n(&TorquePreload::of(thread));
        let unit = 207e6 * thread.diameter_mm;
        near(
            "fit",
            stiffness,
            unit * 0.787_15 * (0.628_73 / diameters).exp(),
            0.12,
        );
        let l = 0.577_4 * diameters;
        let eq_8_22 = 0.577_4 * std::f32::consts::PI / (2.0 * (5.0 * (l + 0.5) / (l + 2.5)).ln());
        near("eq. 8-22", stiffness, unit * eq_8_22, 0.001);
    }
}

/// The cone formula by hand for M10 (hole 11 mm, usual face 14.63 mm) with a stated ring of 15.5 mm, whose
/// face is 20 mm: two cones over 30 mm.
#[test]
fn a_wider_bearing_ring_makes_the_parts_stiffer() {
    let clamp = Clamp {
        length_mm: 30.0,
        shank_mm: 0.0,
        parts_gpa: 205.0,
        nut: true,
    };
    let parts = |bearing_mm: Option<f32>| {
        let fastener = Fastener {
            bearing_mm,
            ..Fastener::new(thread("M10"))
        };
        1.0 / clamp.parts_m_per_n(&fastener.torque_preload())
    };
    let tan = 3.0_f32.sqrt().recip();
    let base = 20.0 + 30.0 * tan;
    let cones = (((base - 11.0) * (20.0 + 11.0)) / ((base + 11.0) * (20.0 - 11.0))).ln();
    let by_hand = 1e6 * std::f32::consts::PI * tan * 205.0 * 11.0 / (2.0 * cones);
    near("stated ring", parts(Some(15.5)), by_hand, 0.001);
    assert!(parts(Some(15.5)) > 1.2 * parts(None));
    // A ring within the usual hole, and none at all, are still parts of some stiffness.
    for narrow in [10.5, 10.0] {
        assert!(parts(Some(narrow)).is_finite() && parts(Some(narrow)) > 0.0);
        assert!(parts(Some(narrow)) < parts(None));
    }
}

/// Shigley, example 8-3 (read): kb 6.50 and km 13.8 Mlbf/in; a load of 6 kip adds C = 0.320 of it to
/// the bolt. Here the same compliances set the angle that 25 kip need.
#[test]
fn stated_stiffnesses_give_rate_and_angle() {
    let newton_per_metre = 4.448_222 / 0.0254 * 1e6;
    let (bolt, parts) = (6.50 * newton_per_metre, 13.8 * newton_per_metre);
    near("C", bolt / (bolt + parts), 0.320, 0.001);
    let mut fastener = Fastener::new(thread("M20x1.5"));
    fastener.locking = Some(Locking::Free);
    fastener.friction = Some(Friction::exact(0.15));
    fastener.joint = Some(Joint::Stiffness {
        bolt_n_per_m: bolt,
        parts_n_per_m: parts,
    });
    let preload_n = 25_000.0 * 4.448_222;
    let target = fastener
        .torque_preload()
        .torque_nm(preload_n, &Friction::exact(0.15))
        .max;
    let forecast = Forecast::of(&fastener, Some(target));
    let stretch_m = preload_n * (1.0 / bolt + 1.0 / parts);
    let angle = forecast.elastic_rad.unwrap();
    near(
        "angle",
        angle.max,
        stretch_m / 1.5e-3 * std::f32::consts::TAU,
        1e-4,
    );
    near(
        "rate",
        forecast.elastic_rate_nm_per_rad.unwrap().max,
        target / angle.max,
        1e-4,
    );
}

/// M10 in steel, 40 mm clamped of which 20 mm shank, worked out by hand for this test: areas 78.540 and
/// 52.292 mm², so with a nut (29/78.540 + 25/52.292)/205 GPa. Shigley's eq. 8-17 (from memory), which
/// leaves head and nut out and takes the stress area for the thread, must come out stiffer.
#[test]
fn a_bolt_is_as_stiff_as_its_sections_in_series() {
    let thread = thread("M10");
    let clamp = |nut| Clamp {
        length_mm: 40.0,
        shank_mm: 20.0,
        parts_gpa: 205.0,
        nut,
    };
    let nut = clamp(true).bolt_m_per_n(&thread, 205.0);
    near("nut", nut, 4.1333e-9, 1e-3);
    near(
        "tapped",
        clamp(false).bolt_m_per_n(&thread, 205.0),
        4.0898e-9,
        1e-3,
    );
    let shigley = (20.0 / 78.54 + 20.0 / 57.99) / 205e6;
    assert!((shigley..1.6 * shigley).contains(&nut), "{nut}, {shigley}");
}

/// EN 1090-2 combined method, table 21 (read): after 0.75 of the torque that gives `Fp,C`, another 60°
/// below a clamped length of 2·d, 90° up to 6·d, 120° up to 10·d, and the preload is at least `Fp,C`.
/// So the last quarter of it needs no larger angle in a steel joint as stiff as reckoned here.
#[test]
fn the_angles_of_the_combined_method_reach_the_structural_preload() {
    for (name, preload_kn) in [
        ("M12", 59.0),
        ("M16", 110.0),
        ("M20", 172.0),
        ("M24", 247.0),
        ("M30", 393.0),
        ("M36", 572.0),
    ] {
        let thread = thread(name);
        for (diameters, step_deg) in [(1.99, 60.0), (6.0, 90.0), (10.0, 120.0)] {
            let joint = Joint::Clamp(Clamp {
                length_mm: diameters * thread.diameter_mm,
                shank_mm: 0.0,
                parts_gpa: 205.0,
                nut: true,
            });
            let compliance = joint
                .compliance_m_per_n(&TorquePreload::of(thread), None)
                .unwrap();
            let turns = 0.25e3 * preload_kn * compliance / (1e-3 * thread.pitch_mm);
            assert!(
                360.0 * turns < step_deg,
                "{name}, {diameters} d: {} deg",
                360.0 * turns
            );
            // Not so stiff either that the step would be pointless.
            assert!(
                360.0 * turns > 0.1 * step_deg,
                "{name}, {diameters} d: {} deg",
                360.0 * turns
            );
        }
    }
}

#[test]
fn the_rate_of_a_class_reaches_the_target_within_its_angles() {
    let mut fastener = flange_bolt();
    fastener.joint = Some(Joint::Class(JointClass::Medium));
    let forecast = Forecast::of(&fastener, Some(36.0));
    let (rate, angle) = (
        forecast.elastic_rate_nm_per_rad.unwrap(),
        forecast.elastic_rad.unwrap(),
    );
    near("slow", rate.min * angle.max, 36.0, 1e-5);
    near("fast", rate.max * angle.min, 36.0, 1e-5);
    assert_eq!(angle, JointClass::Medium.angle_rad());
    assert_eq!(Forecast::of(&fastener, None).elastic_rate_nm_per_rad, None);
}

/// ISO 5393 (as quoted by trade pages): hard 10 % to 100 % within 27°, soft over at least 324°.
#[test]
fn joint_classes_are_those_of_iso_5393() {
    near(
        "hard",
        0.9 * JointClass::Hard.angle_rad().max.to_degrees(),
        27.0,
        1e-5,
    );
    near(
        "soft",
        0.9 * JointClass::Soft.angle_rad().min.to_degrees(),
        324.0,
        1e-5,
    );
    assert_eq!(
        JointClass::Hard.angle_rad().max,
        JointClass::Medium.angle_rad().min
    );
    assert_eq!(
        JointClass::Medium.angle_rad().max,
        JointClass::Soft.angle_rad().min
    );
}

#[test]
fn what_is_not_known_is_left_out_of_the_forecast() {
    let bare = Forecast::of(&Fastener::new(thread("M10")), None);
    assert_eq!(bare.rundown_turns, None);
    assert_eq!(bare.preload, None);
    assert_eq!(bare.yield_nm, None);
    assert_eq!(bare.elastic_rate_nm_per_rad, None);
    assert_eq!(bare.corridor_nm(0.1), None);
    let full = Forecast::of(&flange_bolt(), Some(35.0));
    assert_eq!(full.rundown_turns, Some(10.0));
    assert_eq!(full.run_out_turns, Some(10.0));
    // The thread in mesh when tight must be run out, whatever the bolt was run down by.
    let meshed = Fastener {
        rundown_mm: None,
        ..flange_bolt()
    };
    let meshed = Forecast::of(&meshed, Some(35.0));
    assert_eq!(
        (meshed.rundown_turns, meshed.run_out_turns),
        (None, Some(8.0))
    );
    let snug = full.snug_rad.unwrap();
    near("earliest snug", snug.min, 9.0 * std::f32::consts::TAU, 1e-6);
    near("latest snug", snug.max, 11.0 * std::f32::consts::TAU, 1e-6);
    assert_eq!(full.prevailing_nm, Some(Band::ZERO));
    // Unknown friction and an unknown locking feature widen what a statement narrows.
    let mut known = flange_bolt();
    known.friction = Some(Friction::exact(0.12));
    let known = Forecast::of(&known, Some(35.0)).preload.unwrap();
    let part = |p: Preload| p.u_n / p.estimate_n;
    let mut unknown = flange_bolt();
    unknown.friction = None;
    unknown.locking = None;
    let unknown = Forecast::of(&unknown, Some(35.0)).preload.unwrap();
    let usual = full.preload.unwrap();
    assert!(part(known) < part(usual) && part(usual) < part(unknown));
    assert!(unknown.band_n.min < usual.band_n.min);
}

#[test]
fn the_corridor_holds_every_bolt_of_the_description() {
    let fastener = flange_bolt();
    let forecast = Forecast::of(&fastener, Some(35.0));
    assert_eq!(forecast.corridor_nm(-3.0), Some(Band::ZERO));
    let (low, high) = (
        fastener.friction.unwrap().thread.min,
        fastener.friction.unwrap().thread.max,
    );
    let geometry = fastener.torque_preload();
    let compliance = fastener
        .joint
        .unwrap()
        .compliance_m_per_n(&geometry, fastener.bolt.as_ref())
        .unwrap();
    for step in 0..200 {
        let angle = 0.02 * step as f32;
        let corridor = forecast.corridor_nm(angle).unwrap();
        for part in [0.0, 0.5, 1.0] {
            let friction = low + part * (high - low);
            let elastic_n = angle / std::f32::consts::TAU * 1.5e-3 / compliance;
            // Elastic, then level at the preload of yield onset: the least a sound bolt does.
            let preload_n = elastic_n.min(geometry.assembly_preload_n(640.0, friction));
            let torque = 1e-3 * preload_n * geometry.lever_mm(friction, friction);
            assert!(
                corridor.min * 0.9999 <= torque && torque <= corridor.max * 1.0001 + 1e-6,
                "{angle} rad at {friction}: {torque} not in {corridor:?}"
            );
        }
    }
}
