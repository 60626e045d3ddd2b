//! Tabulated assembly preloads and torques.

use bolting_monitor::fastener::{Band, Fastener, Friction, Locking, TorquePreload};

use crate::faults::keys;
use crate::{CLASSES, material, near, thread};

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
