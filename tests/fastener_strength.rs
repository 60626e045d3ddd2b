//! Strength, preload and stiffness held against published figures. Each table names its source and
//! how it is known: *read* in a reprint or *from memory*; figures worked out for these tests say so.

use bolting_monitor::fastener::{
    Band, Clamp, Fastener, Forecast, Friction, FrictionClass, Joint, JointClass, Locking, Material,
    Mating, Preload, PropertyClass, Severity, Thread, ThreadSystem, TorquePreload,
};

fn thread(designation: &str) -> Thread {
    designation.parse().unwrap()
}

fn material(class: &str, diameter_mm: f32) -> Material {
    class
        .parse::<PropertyClass>()
        .unwrap()
        .material(diameter_mm)
}

#[track_caller]
fn near(what: &str, got: f32, printed: f32, part: f32) {
    assert!(
        (got - printed).abs() <= part * printed.abs(),
        "{what}: {got}, published {printed}, allowed {} %",
        100.0 * part
    );
}

const CLASSES: [&str; 3] = ["8.8", "10.9", "12.9"];

/// Size, proof loads and least ultimate loads in kN for 8.8, 10.9 and 12.9: ISO 898-1:2013 tables 5
/// and 4, read in two agreeing reprints (proof loads of M30 and M36 from memory).
const LOADS: [(&str, [f32; 3], [f32; 3]); 15] = [
    ("M4", [5.1, 7.29, 8.52], [7.02, 9.13, 10.7]),
    ("M5", [8.23, 11.8, 13.8], [11.35, 14.8, 17.3]),
    ("M6", [11.6, 16.7, 19.5], [16.1, 20.9, 24.5]),
    ("M8", [21.2, 30.4, 35.5], [29.2, 38.1, 44.6]),
    ("M10", [33.7, 48.1, 56.3], [46.4, 60.3, 70.8]),
    ("M12", [48.9, 70.0, 81.8], [67.4, 87.7, 103.0]),
    ("M14", [66.7, 95.5, 112.0], [92.0, 120.0, 140.0]),
    ("M16", [91.0, 130.0, 152.0], [125.0, 163.0, 192.0]),
    ("M18", [115.0, 159.0, 186.0], [159.0, 200.0, 234.0]),
    ("M20", [147.0, 203.0, 238.0], [203.0, 255.0, 299.0]),
    ("M22", [182.0, 252.0, 294.0], [252.0, 315.0, 370.0]),
    ("M24", [212.0, 293.0, 342.0], [293.0, 367.0, 431.0]),
    ("M27", [275.0, 381.0, 445.0], [381.0, 477.0, 560.0]),
    ("M30", [337.0, 466.0, 544.0], [466.0, 583.0, 684.0]),
    ("M36", [490.0, 678.0, 792.0], [678.0, 850.0, 997.0]),
];

/// The standard multiplies areas rounded to three figures (up to 0.4 % off: M14) and rounds again;
/// the proof load of M6 8.8 is even cut (11.6 where 20.1 mm² × 580 MPa are 11.66). Hence 0.7 %.
#[test]
fn proof_and_ultimate_loads_are_those_of_iso_898_1() {
    for (name, proofs, ultimates) in LOADS {
        let thread = thread(name);
        for ((class, proof), ultimate) in CLASSES.iter().zip(proofs).zip(ultimates) {
            let m = material(class, thread.diameter_mm);
            let what = format!("{name} {class}");
            near(&what, m.proof_load_n(&thread).unwrap() / 1e3, proof, 0.007);
            near(&what, m.ultimate_load_n(&thread) / 1e3, ultimate, 0.007);
        }
    }
}

/// Preload level of EN 1090-2, 8.5.1, `0.7·fub·As` in kN for 10.9: read in a torque table page.
#[test]
fn structural_preloads_are_those_of_en_1090_2() {
    for (name, printed) in [
        ("M12", 59.0),
        ("M16", 110.0),
        ("M20", 172.0),
        ("M22", 212.0),
        ("M24", 247.0),
        ("M27", 321.0),
        ("M30", 393.0),
        ("M36", 572.0),
    ] {
        // EN 1090-2 reckons with the nominal strength of 1000 MPa.
        let nominal = Material {
            tensile_mpa: 1000.0,
            ..material("10.9", 20.0)
        };
        near(
            name,
            0.7e-3 * nominal.ultimate_load_n(&thread(name)),
            printed,
            0.005,
        );
    }
}

/// ISO 898-7:1992 least breaking torque in N·m (from memory, recomputed), with the least minor
/// diameter of 6g as read in a reprint of ISO 965.
#[test]
fn torsion_breaks_a_bolt_where_iso_898_7_says() {
    for (minor_mm, printed) in [
        (4.596, [13.0, 16.0, 17.0]),
        (6.272, [33.0, 40.0, 44.0]),
        (7.938, [66.0, 81.0, 90.0]),
    ] {
        for (class, printed) in CLASSES.iter().zip(printed) {
            let torque = material(class, 10.0).breaking_torsion_nm(minor_mm);
            assert!(
                (torque - printed).abs() <= 0.5,
                "{class}: {torque}, {printed}"
            );
        }
    }
}

type Assembly = (&'static str, f32, [f32; 3], [f32; 3]);

/// Fine thread, friction, preloads in kN and torques in N·m at 90 % of yield for 8.8, 10.9 and
/// 12.9: VDI 2230:2001, read in a catalogue's reprint.
const VDI_FINE: [Assembly; 27] = [
    ("M8x1", 0.10, [20.7, 30.4, 35.6], [22.8, 33.5, 39.2]),
    ("M8x1", 0.12, [20.2, 29.7, 34.7], [26.1, 38.3, 44.9]),
    ("M8x1", 0.14, [19.7, 28.9, 33.9], [29.2, 42.8, 50.1]),
    ("M10x1.25", 0.10, [32.4, 47.5, 55.6], [44.0, 65.0, 76.0]),
    ("M10x1.25", 0.12, [31.6, 46.4, 54.3], [51.0, 75.0, 87.0]),
    ("M10x1.25", 0.14, [30.8, 45.2, 52.9], [57.0, 83.0, 98.0]),
    ("M12x1.25", 0.10, [49.1, 72.1, 84.4], [79.0, 116.0, 135.0]),
    ("M12x1.25", 0.12, [48.0, 70.5, 82.5], [90.0, 133.0, 155.0]),
    ("M12x1.25", 0.14, [46.8, 68.7, 80.4], [101.0, 149.0, 174.0]),
    ("M14x1.5", 0.10, [66.4, 97.5, 114.1], [124.0, 182.0, 213.0]),
    ("M14x1.5", 0.12, [64.8, 95.2, 111.4], [142.0, 209.0, 244.0]),
    ("M14x1.5", 0.14, [63.2, 92.9, 108.7], [159.0, 234.0, 274.0]),
    ("M16x1.5", 0.10, [89.6, 131.6, 154.0], [189.0, 278.0, 325.0]),
    ("M16x1.5", 0.12, [87.6, 128.7, 150.6], [218.0, 320.0, 374.0]),
    ("M16x1.5", 0.14, [85.5, 125.5, 146.9], [244.0, 359.0, 420.0]),
    (
        "M18x1.5",
        0.10,
        [120.0, 171.0, 200.0],
        [283.0, 403.0, 472.0],
    ),
    (
        "M18x1.5",
        0.12,
        [117.0, 167.0, 196.0],
        [327.0, 465.0, 544.0],
    ),
    (
        "M18x1.5",
        0.14,
        [115.0, 163.0, 191.0],
        [368.0, 523.0, 613.0],
    ),
    (
        "M20x1.5",
        0.10,
        [151.0, 215.0, 252.0],
        [392.0, 558.0, 653.0],
    ),
    (
        "M20x1.5",
        0.12,
        [148.0, 211.0, 246.0],
        [454.0, 646.0, 756.0],
    ),
    (
        "M20x1.5",
        0.14,
        [144.0, 206.0, 241.0],
        [511.0, 728.0, 852.0],
    ),
    (
        "M22x1.5",
        0.10,
        [186.0, 264.0, 309.0],
        [529.0, 754.0, 882.0],
    ),
    (
        "M22x1.5",
        0.12,
        [182.0, 259.0, 303.0],
        [613.0, 873.0, 1022.0],
    ),
    (
        "M22x1.5",
        0.14,
        [178.0, 253.0, 296.0],
        [692.0, 985.0, 1153.0],
    ),
    ("M24x2", 0.10, [213.0, 304.0, 355.0], [666.0, 949.0, 1110.0]),
    (
        "M24x2",
        0.12,
        [209.0, 297.0, 348.0],
        [769.0, 1095.0, 1282.0],
    ),
    (
        "M24x2",
        0.14,
        [204.0, 290.0, 339.0],
        [865.0, 1232.0, 1442.0],
    ),
];

/// Coarse threads likewise: VDI 2230:2003 table A1, **from memory**, apart from the preload of M12
/// 8.8 at 0.14, which was read.
const VDI_COARSE: [Assembly; 18] = [
    ("M5", 0.12, [7.2, 10.6, 12.4], [5.9, 8.6, 10.0]),
    ("M6", 0.10, [10.4, 15.3, 17.9], [9.0, 13.2, 15.4]),
    ("M6", 0.12, [10.2, 14.9, 17.5], [10.1, 14.9, 17.4]),
    ("M6", 0.14, [9.9, 14.5, 17.0], [11.3, 16.5, 19.3]),
    ("M8", 0.10, [19.1, 28.0, 32.8], [21.6, 31.8, 37.2]),
    ("M8", 0.12, [18.6, 27.3, 32.0], [24.6, 36.1, 42.2]),
    ("M8", 0.14, [18.1, 26.6, 31.1], [27.3, 40.1, 46.9]),
    ("M10", 0.10, [30.3, 44.5, 52.1], [43.0, 63.0, 73.0]),
    ("M10", 0.12, [29.6, 43.4, 50.8], [48.0, 71.0, 83.0]),
    ("M10", 0.14, [28.8, 42.2, 49.4], [54.0, 79.0, 93.0]),
    ("M12", 0.10, [44.1, 64.8, 75.9], [73.0, 108.0, 126.0]),
    ("M12", 0.12, [43.0, 63.2, 74.0], [84.0, 123.0, 144.0]),
    ("M12", 0.14, [41.9, 61.5, 72.0], [93.0, 137.0, 160.0]),
    ("M16", 0.10, [82.9, 121.7, 142.4], [180.0, 264.0, 309.0]),
    ("M16", 0.12, [80.9, 118.8, 139.0], [206.0, 302.0, 354.0]),
    ("M16", 0.14, [78.8, 115.7, 135.4], [230.0, 338.0, 395.0]),
    ("M20", 0.12, [130.0, 186.0, 217.0], [415.0, 592.0, 692.0]),
    ("M24", 0.12, [188.0, 267.0, 313.0], [714.0, 1017.0, 1190.0]),
];

fn assembly_figures_agree(rows: &[Assembly], preload_part: f32, torque_part: f32) {
    for (name, friction, preloads, torques) in rows {
        let geometry = TorquePreload::of(thread(name));
        for ((class, preload), torque) in CLASSES.iter().zip(preloads).zip(torques) {
            let stress = 0.9 * material(class, geometry.thread.diameter_mm).yield_mpa;
            let what = format!("{name} {class} {friction}");
            let got = geometry.assembly_preload_n(stress, *friction) / 1e3;
            near(&what, got, *preload, preload_part);
            let got = geometry.assembly_torque_nm(stress, *friction, *friction);
            near(&what, got, *torque, torque_part);
        }
    }
}

#[test]
fn assembly_preloads_and_torques_are_those_of_vdi_2230_for_fine_threads() {
    assembly_figures_agree(&VDI_FINE, 0.005, 0.01);
}

#[test]
fn assembly_preloads_and_torques_are_those_of_vdi_2230_for_coarse_threads() {
    assembly_figures_agree(&VDI_COARSE, 0.01, 0.015);
}

/// VDI 2230 usage example, read: 41.9 kN for M12 8.8 at 0.14, and 23.3 kN are left of it by a
/// tightening factor of 1.8.
#[test]
fn the_read_coarse_anchor_holds() {
    let preload = TorquePreload::of(thread("M12")).assembly_preload_n(0.9 * 640.0, 0.14) / 1e3;
    near("M12 8.8", preload, 41.9, 0.005);
    near("M12 8.8 over 1.8", preload / 1.8, 23.3, 0.005);
}

/// Size, class, friction, preload in kN and torque in N·m at 90 % of yield: read in a catalogue's
/// table for A1, A2 and A4.
const STAINLESS: [(&str, &str, f32, f32, f32); 28] = [
    ("M6", "A2-70", 0.1, 7.3, 6.3),
    ("M6", "A2-70", 0.2, 6.4, 10.0),
    ("M6", "A2-70", 0.3, 5.5, 12.2),
    ("M6", "A2-80", 0.1, 9.7, 8.4),
    ("M6", "A2-80", 0.2, 8.4, 13.2),
    ("M6", "A2-80", 0.3, 7.2, 16.3),
    ("M8", "A2-70", 0.1, 13.4, 15.2),
    ("M8", "A2-70", 0.2, 11.6, 24.1),
    ("M8", "A2-70", 0.3, 9.9, 30.0),
    ("M8", "A2-80", 0.1, 17.9, 20.3),
    ("M8", "A2-80", 0.2, 15.5, 32.1),
    ("M8", "A2-80", 0.3, 13.3, 40.0),
    ("M10", "A2-70", 0.1, 21.3, 30.0),
    ("M10", "A2-70", 0.2, 18.5, 47.7),
    ("M10", "A2-80", 0.1, 28.4, 39.0),
    ("M10", "A2-80", 0.2, 24.7, 63.0),
    ("M20", "A2-70", 0.1, 91.0, 247.0),
    ("M20", "A2-70", 0.2, 79.6, 401.0),
    ("M20", "A2-70", 0.3, 68.0, 501.0),
    ("M20", "A2-80", 0.1, 121.0, 330.0),
    ("M20", "A2-80", 0.2, 106.0, 534.0),
    ("M20", "A2-80", 0.3, 90.0, 669.0),
    ("M24", "A2-70", 0.1, 131.0, 426.0),
    ("M24", "A2-70", 0.2, 115.0, 690.0),
    ("M24", "A2-70", 0.3, 98.0, 863.0),
    ("M24", "A2-80", 0.1, 175.0, 568.0),
    ("M24", "A2-80", 0.2, 153.0, 920.0),
    ("M24", "A2-80", 0.3, 131.0, 1151.0),
];

/// The reprint rounds coarsely, hence 1.5 %; its M10 class 80 torque at 0.1 is 2 % off its own
/// neighbours (39 where 40 would fit).
#[test]
fn assembly_preloads_and_torques_are_those_of_a_stainless_table() {
    for (name, class, friction, preload, torque) in STAINLESS {
        let geometry = TorquePreload::of(thread(name));
        let stress = 0.9 * material(class, geometry.thread.diameter_mm).yield_mpa;
        let what = format!("{name} {class} {friction}");
        let got = geometry.assembly_preload_n(stress, friction) / 1e3;
        near(&what, got, preload, 0.015);
        let allowed = if (name, class, friction) == ("M10", "A2-80", 0.1) {
            0.025
        } else {
            0.016
        };
        near(
            &what,
            geometry.assembly_torque_nm(stress, friction, friction),
            torque,
            allowed,
        );
    }
}

/// Torque per load of the exact wedge, and of a collar, in the unit of the diameters.
fn wedge(mean: f64, lead: f64, friction: f64, secant: f64, sign: f64) -> f64 {
    let pi = std::f64::consts::PI;
    let tan = lead / (pi * mean);
    let f = friction * secant;
    mean / 2.0 * (f + sign * tan) / (1.0 - sign * f * tan)
}

/// Power screws of Shigley problems 8-4 and 8-6 (published solutions, read) prove the wedge, and the
/// wedge then bounds what the linear long form leaves out: at most 3 % of the thread's part, always
/// too low, from class A to dry friction.
#[test]
fn the_long_form_is_the_linear_part_of_the_exact_wedge() {
    let near = |got: f64, printed: f64| {
        assert!(
            (got / printed - 1.0).abs() < 1e-3,
            "{got}, published {printed}"
        );
    };
    near(6.0 * wedge(22.5, 5.0, 0.08, 1.0, 1.0), 10.23);
    near(6.0 * 0.05 * 40.0 / 2.0, 6.0);
    near(6.0 * wedge(22.5, 5.0, 0.08, 1.0, -1.0) + 6.0, 6.622);
    near(2500.0 * wedge(2.75, 0.5, 0.05, 1.033, 1.0), 377.6);
    for name in ["M3", "M4", "M6", "M10", "M10x1.25", "M20", "M36", "M42"] {
        let geometry = TorquePreload::of(thread(name));
        let (d2, pitch) = (
            geometry.thread.pitch_diameter_mm(),
            geometry.thread.pitch_mm,
        );
        for friction in [0.04_f32, 0.12, 0.2, 0.3] {
            let exact = wedge(d2.into(), pitch.into(), friction.into(), 1.154_700_5, 1.0);
            let short = 1.0 - f64::from(geometry.lever_mm(friction, 0.0)) / exact;
            assert!((-1e-6..0.03).contains(&short), "{name} {friction}: {short}");
        }
    }
}

/// 3/4-16 UNF, inch units: Shigley, 9th ed., example 8-3 and page 438 (inputs and `K` about 0.20 for
/// 0.15 read, 3551 lbf·in and 0.189 from memory).
#[test]
fn shigley_example_8_3_comes_out_in_metric_units() {
    let thread = Thread {
        system: ThreadSystem::Unified,
        diameter_mm: 0.75 * 25.4,
        pitch_mm: 25.4 / 16.0,
    };
    let geometry = TorquePreload::of(thread);
    // Mean collar diameter 1.25·d, as the example has it.
    near("bearing", geometry.bearing_mm, 1.25 * 19.05, 1e-5);
    let friction = Friction::exact(0.15);
    let torque = geometry.torque_nm(25_000.0 * 4.448_222, &friction);
    // The example takes the minor-area diameter for the mean one, and the wedge: 2 % less.
    near("torque", torque.max / 0.112_984_83, 3551.0, 0.03);
    near("K", geometry.nut_factor(&friction).max, 0.189, 0.03);
    // A short form with K = 0.20: 3750 lbf·in (read inputs, exact product).
    near("K·F·d", 0.20 * 25_000.0 * 0.75, 3750.0, 1e-6);
    for name in ["M6", "M8", "M10", "M12", "M16", "M20", "M24", "M30", "M36"] {
        let k = TorquePreload::of(self::thread(name))
            .nut_factor(&friction)
            .max;
        near(name, k, 0.20, 0.06);
    }
}

/// `K` by coating, Shigley table 8-15 (read), each inside the nut factors of the friction class that
/// VDI 2230 gives such a surface.
#[test]
fn tabulated_nut_factors_lie_in_the_friction_classes_of_such_surfaces() {
    let geometry = TorquePreload::of(thread("M12"));
    for (what, k, class) in [
        ("black", 0.30, FrictionClass::D),
        ("zinc", 0.20, FrictionClass::C),
        ("lubricated", 0.18, FrictionClass::B),
        ("cadmium", 0.16, FrictionClass::B),
        ("anti-seize", 0.12, FrictionClass::A),
    ] {
        let band = geometry.nut_factor(&class.into());
        assert!(band.contains(k), "{what}: {k} not in {band:?}");
    }
}

/// Torque per load of structural assemblies, EN 1090-2 (read): load kN, 1.1·torque N·m, km. The
/// friction that gives each is a lubricated one.
#[test]
fn structural_assemblies_have_lubricated_friction() {
    for (name, load, torque, km) in [
        ("M12", 59.0, 100.0, 0.129),
        ("M16", 110.0, 250.0, 0.129),
        ("M20", 172.0, 450.0, 0.119),
        ("M24", 247.0, 800.0, 0.123),
        ("M30", 393.0, 1650.0, 0.127),
        ("M36", 572.0, 2800.0, 0.124),
    ] {
        let geometry = TorquePreload::of(thread(name));
        let k: f32 = torque / 1.1 / (load * geometry.thread.diameter_mm);
        near(name, k, km, 0.01);
        let per_friction = geometry.lever_mm(1.0, 1.0) - geometry.lever_mm(0.0, 0.0);
        let friction =
            (k * geometry.thread.diameter_mm - geometry.lever_mm(0.0, 0.0)) / per_friction;
        assert!(
            FrictionClass::B.band().contains(friction),
            "{name}: {friction}"
        );
        near(
            name,
            geometry
                .torque_nm(1e3 * load, &Friction::exact(friction))
                .max,
            torque / 1.1,
            1e-4,
        );
    }
}

/// Preloads in kN at 90 N·m, about M12x1.25: Blake and Kurtz, in Shigley tables 8-13 (20 dry bolts,
/// mean 34.3, s 4.91) and 8-14 (10 lubricated, mean 34.18, s 2.88); read.
const DRY: [f32; 20] = [
    23.6, 27.6, 28.0, 29.4, 30.3, 30.7, 32.9, 33.8, 33.8, 33.8, 34.7, 35.6, 35.6, 37.4, 37.8, 37.8,
    39.2, 40.0, 40.5, 42.7,
];
const LUBRICATED: [f32; 10] = [30.3, 32.5, 32.5, 32.9, 32.9, 33.8, 34.3, 34.7, 37.4, 40.5];

fn mean_and_s(values: &[f32]) -> (f32, f32) {
    let n = values.len() as f32;
    let mean = values.iter().sum::<f32>() / n;
    let squares: f32 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
    (mean, (squares / (n - 1.0)).sqrt())
}

#[test]
fn measured_preloads_scatter_as_the_forecast_says() {
    let geometry = TorquePreload::of(thread("M12x1.25"));
    // The lubricated bolts are steadier than the dry ones, but no slicker: class C holds both.
    let preload = geometry.preload(90.0, 0.0, &Band::ZERO, &FrictionClass::C.into());
    for (values, printed) in [(&DRY[..], (34.3, 4.91)), (&LUBRICATED[..], (34.18, 2.88))] {
        let (mean, s) = mean_and_s(values);
        near("mean", mean, printed.0, 0.005);
        near("s", s, printed.1, 0.005);
        assert!(preload.band_n.contains(1e3 * mean), "{preload:?}");
        let inside = values
            .iter()
            .filter(|v| preload.band_n.contains(1e3 * **v))
            .count();
        assert!(
            inside * 10 >= values.len() * 9,
            "{inside} inside {preload:?}"
        );
        // A friction class is no tighter than one batch of bolts.
        assert!(
            preload.u_n / preload.estimate_n > 0.95 * s / mean,
            "{preload:?}, s {s}"
        );
    }
}

/// Scatter of torque-controlled preload: ±35 % dry, ±25 % lubricated (NASA NSTS 08307 and Machinery's
/// Handbook, read). An expanded uncertainty (k = 2) below them would be a fault, above twice them
/// useless.
#[test]
fn stated_uncertainty_is_not_narrower_than_published_scatter() {
    for name in ["M6", "M10", "M20"] {
        let geometry = TorquePreload::of(thread(name));
        for (class, published) in [(FrictionClass::B, 0.25), (FrictionClass::C, 0.25)] {
            let p = geometry.preload(50.0, 0.0, &Band::ZERO, &class.into());
            let expanded = 2.0 * p.u_n / p.estimate_n;
            assert!(
                (published..0.5).contains(&expanded),
                "{name} {class:?}: {expanded}"
            );
        }
    }
}

/// JCGM 101: 200 000 draws of the coefficients (one lubricant, so one draw for both) and of the
/// prevailing torque through the long form, in f64. Friction of a tenfold range would need more
/// terms; the widest class here spans a factor of 2.5.
#[test]
fn preload_uncertainty_agrees_with_a_monte_carlo_run() {
    let geometry = TorquePreload::of(thread("M10"));
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut draw = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let prevailing = Band::new(1.0, 7.0);
    for class in [
        FrictionClass::A,
        FrictionClass::B,
        FrictionClass::C,
        FrictionClass::D,
    ] {
        let friction = Friction::from(class);
        let stated = geometry.preload(48.0, 0.0, &prevailing, &friction);
        let within =
            |band: Band, at: f64| f64::from(band.min) + at * f64::from(band.max - band.min);
        let mut inside = true;
        let draws: Vec<f64> = (0..200_000)
            .map(|_| {
                let mu = draw();
                let (thread, head) = (within(friction.thread, mu), within(friction.head, mu));
                let lever = 1.5 / std::f64::consts::TAU
                    + thread * 9.025_721_5 / (2.0 * (std::f64::consts::PI / 6.0).cos())
                    + head * 0.5 * f64::from(geometry.bearing_mm);
                let preload = 1e3 * (48.0 - within(prevailing, draw())) / lever;
                inside &= stated.band_n.min as f64 * 0.999_99 <= preload
                    && preload <= stated.band_n.max as f64 * 1.000_01;
                preload
            })
            .collect();
        let mean = draws.iter().sum::<f64>() / 2e5;
        let s = (draws.iter().map(|f| (f - mean).powi(2)).sum::<f64>() / 2e5).sqrt();
        assert!(inside, "{class:?}: a draw outside {:?}", stated.band_n);
        near("mean", stated.estimate_n, mean as f32, 0.005);
        near("u", stated.u_n, s as f32, 0.05);
    }
}

/// Tightening and loosening torque differ by `F·P/π`, whatever the friction (identity behind finding
/// loads from on and off torques; method of Eccles 2014 read, equation worked out).
#[test]
fn on_and_off_torque_differ_by_the_lead_alone() {
    for name in ["M6", "M10", "M20x1.5"] {
        let geometry = TorquePreload::of(thread(name));
        for friction in [0.10, 0.12, 0.14, 0.3] {
            let on = geometry.lever_mm(friction, friction);
            let off = geometry.loosening_lever_mm(friction, friction);
            near(
                name,
                on - off,
                geometry.thread.pitch_mm / std::f32::consts::PI,
                1e-5,
            );
        }
    }
    // Slippery enough, a screw undoes itself: no torque holds it.
    let loose =
        TorquePreload::of(thread("M10")).breakaway_nm(40.0, &Band::ZERO, &Friction::exact(0.0));
    assert_eq!(loose, Band::ZERO);
}

/// The cone formula, with a face of 1.5·d on a hole of d, against the finite-element fit of Wileman,
/// Choudhury and Green (1991), `k = E·d·0.78715·exp(0.62873·d/l)` for steel (constants from memory):
/// Shigley prints both as alternatives (eq. 8-22, 8-23).
#[test]
fn clamped_parts_are_as_stiff_as_a_published_finite_element_fit_says() {
    let thread = Thread {
        system: ThreadSystem::Unified,
        diameter_mm: 12.7,
        pitch_mm: 25.4 / 20.0,
    };
    for diameters in [1.0_f32, 1.5, 2.0, 3.0, 4.0] {
        let clamp = Clamp {
            length_mm: diameters * thread.diameter_mm,
            shank_mm: 0.0,
            parts_gpa: 207.0,
            nut: true,
        };
        let stiffness = 1.0 / clamp.parts_m_per_n(&thread);
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

/// ISO 3506-1, SAE J429 and ASTM A193 in MPa; Rm of levels 70 and 80 read, the rest from memory
/// (1 ksi = 6.895 MPa).
#[test]
fn classes_are_read_from_their_markings() {
    for (class, diameter, yielding, tensile) in [
        ("A2-70", 10.0, 450.0, 700.0),
        ("a4-80", 10.0, 600.0, 800.0),
        ("A5-100", 10.0, 800.0, 1000.0),
        ("D6-80", 10.0, 600.0, 800.0),
        ("4.6", 10.0, 240.0, 400.0),
        ("8.8", 16.0, 640.0, 800.0),
        ("8.8", 18.0, 660.0, 830.0),
        ("grade 2", 25.4, 248.0, 414.0),
        ("grade 5", 12.7, 634.0, 827.0),
        ("grade 8", 12.7, 896.0, 1034.0),
        ("B7", 20.0, 720.0, 860.0),
        ("B8 class 1", 20.0, 205.0, 515.0),
        ("B8 class 2", 19.05, 690.0, 860.0),
        ("B8 class 2", 24.0, 550.0, 795.0),
    ] {
        let m = material(class, diameter);
        near(class, m.yield_mpa, yielding, 0.01);
        near(class, m.tensile_mpa, tensile, 0.01);
        assert_eq!(m.faults("bolt").count(), 0, "{class}");
    }
    for text in ["8.9", "A2-100", "D4-50", "A4", "A4-", "", "grade 3"] {
        let told = text.parse::<PropertyClass>().unwrap_err().to_string();
        for allowed in ["12.9", "A4-80", "D8-100", "grade 8", "B7"] {
            assert!(told.contains(allowed), "{text}: {told}");
        }
        assert!(
            !told.contains("D4-50") && !told.contains("A2-100"),
            "{told}"
        );
    }
}

/// M10 8.8 in steel, lubricated, hard joint: an invented scenario.
fn flange_bolt() -> Fastener {
    Fastener {
        bolt: Some(material("8.8", 10.0)),
        mating: Some(Mating {
            material: material("8.8", 10.0),
            engagement_mm: 12.0,
        }),
        friction: Some(FrictionClass::B.into()),
        joint: Some(Joint::Clamp(Clamp {
            length_mm: 30.0,
            shank_mm: 0.0,
            parts_gpa: 205.0,
            nut: false,
        })),
        locking: Some(Locking::Free),
        rundown_mm: Some(15.0),
        ..Fastener::new(thread("M10"))
    }
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
        .compliance_m_per_n(&fastener.thread, fastener.bolt.as_ref())
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

/// Over friction intervals the limit torque is the extreme of all pairs inside, not only of corners.
#[test]
fn limit_torques_bound_a_grid_of_frictions() {
    for (name, band) in [
        ("M10", Band::new(0.04, 0.9)),
        ("M8x1", Band::new(0.08, 0.35)),
    ] {
        let geometry = TorquePreload::of(thread(name));
        let friction = Friction {
            thread: band,
            head: band,
        };
        let limit = geometry.limit_torque_nm(640.0, &friction);
        let at = |i: u8| band.min + (band.max - band.min) * f32::from(i) / 40.0;
        let torques: Vec<f32> = (0..=40)
            .flat_map(|t| (0..=40).map(move |h| (t, h)))
            .map(|(t, h)| geometry.assembly_torque_nm(640.0, at(t), at(h)))
            .collect();
        let max = torques.iter().copied().fold(0.0, f32::max);
        let min = torques.iter().copied().fold(f32::MAX, f32::min);
        near(name, limit.min, min, 1e-5);
        near(name, limit.max, max, 1e-3);
        assert!(limit.max >= max * 0.999_999, "{name}: {limit:?}, {max}");
    }
}

fn keys(fastener: &Fastener, target_nm: Option<f32>) -> Vec<(String, Severity)> {
    fastener
        .faults(target_nm)
        .map(|f| (format!("{}.{}", f.part, f.key), f.severity))
        .collect()
}

#[test]
fn every_impossible_figure_is_named_with_its_limit() {
    use Severity::{Refused, Warned};
    let sound = flange_bolt();
    assert_eq!(keys(&sound, Some(35.0)), []);
    let one = |change: fn(&mut Fastener)| {
        let mut f = flange_bolt();
        change(&mut f);
        let found = keys(&f, None);
        assert_eq!(found.len(), 1, "{found:?}");
        found.into_iter().next().unwrap()
    };
    let key = |name: &str, severity| (String::from(name), severity);
    for (change, expected) in [
        (
            (|f| {
                f.friction = Some(Friction {
                    thread: Band::new(0.01, 0.1),
                    head: Band::new(0.1, 0.2),
                })
            }) as fn(&mut Fastener),
            key("friction.thread.min", Refused),
        ),
        (
            |f| {
                f.friction = Some(Friction {
                    thread: Band::new(0.1, 0.1),
                    head: Band::new(0.1, 1.2),
                })
            },
            key("friction.head.max", Refused),
        ),
        (
            |f| f.mating.as_mut().unwrap().engagement_mm = 0.7,
            key("mating.engagement_mm", Refused),
        ),
        (
            |f| f.mating.as_mut().unwrap().engagement_mm = 31.0,
            key("mating.engagement_mm", Warned),
        ),
        (
            |f| f.bearing_mm = Some(9.0),
            key("fastener.bearing_mm", Refused),
        ),
        (
            |f| f.bearing_mm = Some(f32::NAN),
            key("fastener.bearing_mm", Refused),
        ),
        (
            |f| f.rundown_mm = Some(-1.0),
            key("fastener.rundown_mm", Refused),
        ),
        (
            |f| f.bolt.as_mut().unwrap().yield_mpa = 900.0,
            key("bolt.yield_mpa", Refused),
        ),
        (
            |f| f.bolt.as_mut().unwrap().modulus_gpa = 2.05,
            key("bolt.modulus_gpa", Refused),
        ),
        (
            |f| f.mating.as_mut().unwrap().material.shear_part = 0.9,
            key("mating.shear_part", Refused),
        ),
        (
            |f| f.locking = Some(Locking::Stated(Band::new(3.0, 2.0))),
            key("locking.torque_nm.min", Refused),
        ),
        (
            |f| {
                f.joint = Some(Joint::Clamp(Clamp {
                    length_mm: 30.0,
                    shank_mm: 31.0,
                    parts_gpa: 205.0,
                    nut: true,
                }))
            },
            key("joint.shank_mm", Refused),
        ),
    ] {
        assert_eq!(one(change), expected);
    }
}

#[test]
fn a_target_that_the_bolt_does_not_bear_is_refused_and_a_doubtful_one_told() {
    let bolt = flange_bolt();
    let forecast = Forecast::of(&bolt, None);
    let (yielding, breaking) = (forecast.yield_nm.unwrap(), forecast.breaking_nm.unwrap());
    let severities = |target: f32| -> Vec<Severity> {
        bolt.faults(Some(target))
            .filter(|f| f.part == "target")
            .map(|f| f.severity)
            .collect()
    };
    assert_eq!(severities(0.99 * yielding.min), []);
    assert_eq!(severities(1.01 * yielding.min), [Severity::Warned]);
    assert_eq!(severities(0.99 * breaking.max), [Severity::Warned]);
    assert_eq!(severities(1.01 * breaking.max), [Severity::Refused]);
    for nonsense in [0.0, -5.0, f32::NAN, f32::INFINITY] {
        assert!(
            severities(nonsense).contains(&Severity::Refused),
            "{nonsense}"
        );
    }
    let told = bolt.faults(Some(500.0)).next().unwrap().to_string();
    assert!(
        told.contains("target") && told.contains("500") && told.contains("breaks the bolt"),
        "{told}"
    );
    // A target that the locking feature eats.
    let mut locked = bolt;
    locked.locking = Some(Locking::Stated(Band::new(5.0, 10.0)));
    let first = |target| locked.faults(Some(target)).next().map(|f| f.severity);
    assert_eq!(first(4.0), Some(Severity::Refused));
    assert_eq!(first(8.0), Some(Severity::Warned));
    assert_eq!(first(20.0), None);
}

/// The published tables tighten to 90 % of yield: such a target is never refused, whatever the class.
#[test]
fn published_assembly_torques_are_never_refused() {
    for (name, friction, _, torques) in VDI_FINE.iter().chain(&VDI_COARSE) {
        for (class, torque) in CLASSES.iter().zip(torques) {
            let mut fastener = Fastener::new(thread(name));
            fastener.bolt = Some(material(class, fastener.thread.diameter_mm));
            fastener.friction = Some(Friction::exact(*friction));
            fastener.locking = Some(Locking::Free);
            assert_eq!(keys(&fastener, Some(*torque)), [], "{name} {class}");
        }
    }
}

/// Every public function is total: no bits make it panic.
#[test]
fn no_bits_make_a_forecast_panic() {
    let odd = [
        f32::NAN,
        f32::INFINITY,
        f32::NEG_INFINITY,
        0.0,
        -1.0,
        1e38,
        1e-38,
    ];
    for a in odd {
        for b in odd {
            let junk = Material {
                yield_mpa: a,
                tensile_mpa: b,
                proof_mpa: Some(a),
                modulus_gpa: b,
                shear_part: a,
            };
            let fastener = Fastener {
                bolt: Some(junk),
                mating: Some(Mating {
                    material: junk,
                    engagement_mm: a,
                }),
                friction: Some(Friction {
                    thread: Band::new(a, b),
                    head: Band::new(b, a),
                }),
                bearing_mm: Some(a),
                joint: Some(Joint::Clamp(Clamp {
                    length_mm: a,
                    shank_mm: b,
                    parts_gpa: a,
                    nut: true,
                })),
                locking: Some(Locking::Stated(Band::new(a, b))),
                rundown_mm: Some(b),
                ..Fastener::new(Thread {
                    system: ThreadSystem::Metric,
                    diameter_mm: a,
                    pitch_mm: b,
                })
            };
            assert!(
                fastener
                    .faults(Some(a))
                    .any(|f| f.severity == Severity::Refused)
            );
            let _ = Forecast::of(&fastener, Some(b)).corridor_nm(a);
        }
    }
}
