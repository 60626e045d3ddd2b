//! Diameters and stress areas.

use crate::{hold, thread};

/// Half a unit of the last of three figures, with room for an f32.
fn three_figures(printed: f32) -> f32 {
    if printed < 10.0 {
        0.005_01
    } else if printed < 100.0 {
        0.050_1
    } else {
        0.501
    }
}

#[test]
fn diameters_of_m8_agree_with_a_german_thread_data_page() {
    let m8 = thread("M8");
    hold(
        "a German thread-data page, M8",
        [
            ("d2", 7.188, m8.pitch_diameter_mm()),
            ("d3", 6.466, m8.root_diameter_mm()),
            ("D1", 6.647, m8.minor_diameter_mm()),
        ],
        |_| 0.001,
    );
    hold(
        "a German thread-data page, M8",
        [("As", 36.61, m8.stress_area_mm2())],
        |_| 0.005,
    );
}

#[test]
fn stress_areas_agree_with_a_printed_table_to_five_figures() {
    let rows = [
        ("M5", 14.183),
        ("M6", 20.123),
        ("M8", 36.609),
        ("M10", 57.990),
        ("M12", 84.267),
        ("M14", 115.44),
        ("M16", 156.67),
        ("M20", 244.79),
        ("M22", 303.40),
        ("M24", 352.50),
        ("M27", 459.41),
        ("M30", 560.59),
        ("M36", 816.72),
    ];
    hold(
        "metric thread stress and shear area table credited to Bickford, 4th ed., as read in a reprint",
        rows.map(|(name, printed)| (name, printed, thread(name).stress_area_mm2())),
        |_| 0.02,
    );
}

#[test]
fn stress_areas_agree_with_iso_898_1_to_three_figures() {
    let rows = [
        ("M4", 8.78),
        ("M5", 14.2),
        ("M6", 20.1),
        ("M8", 36.6),
        ("M10", 58.0),
        ("M12", 84.3),
        ("M14", 115.0),
        ("M16", 157.0),
        ("M18", 192.0),
        ("M20", 245.0),
        ("M22", 303.0),
        ("M24", 353.0),
        ("M27", 459.0),
        ("M30", 561.0),
        ("M33", 694.0),
        ("M36", 817.0),
    ];
    hold(
        "ISO 898-1 tables 4 and 5, as read in four agreeing reprints",
        rows.map(|(name, printed)| (name, printed, thread(name).stress_area_mm2())),
        three_figures,
    );
}

#[test]
fn stress_areas_agree_with_a_table_of_metric_sizes_to_four_figures() {
    let rows = [
        ("M3", 5.031),
        ("M3.5", 6.775),
        ("M8x1", 39.17),
        ("M10x1.25", 61.20),
        ("M12x1.25", 92.07),
        ("M14x1.5", 124.5),
        ("M16x1.5", 167.2),
        ("M20x1.5", 271.5),
        ("M24x2", 384.4),
        ("M30x2", 621.2),
        ("M36x2", 914.5),
        ("M42", 1121.0),
        ("M42x2", 1264.0),
        ("M48", 1473.0),
        ("M48x2", 1671.0),
        ("M56", 2030.0),
        ("M56x2", 2301.0),
        ("M64", 2676.0),
    ];
    hold(
        "bolt thread sizes by ASME B1.13M, as read at a hardware sizes page",
        rows.map(|(name, printed)| (name, printed, thread(name).stress_area_mm2())),
        |printed| printed * 5e-4,
    );
}

#[test]
fn stress_areas_of_fine_threads_agree_with_iso_898_1_from_memory() {
    let rows = [
        ("M10x1", 64.5),
        ("M12x1.5", 88.1),
        ("M18x1.5", 216.0),
        ("M22x1.5", 333.0),
        ("M27x2", 496.0),
        ("M36x3", 865.0),
    ];
    hold(
        "ISO 898-1 tables 6 and 7, from memory",
        rows.map(|(name, printed)| (name, printed, thread(name).stress_area_mm2())),
        three_figures,
    );
}

fn area_in2(name: &str) -> f32 {
    thread(name).stress_area_mm2() / (25.4 * 25.4)
}

#[test]
fn the_stress_area_of_a_unified_thread_is_that_of_a_textbook_example() {
    hold(
        "Shigley, 9th ed., example 8-3, in², as read in a scan",
        [("3/4-16 UNF", 0.373, area_in2("3/4-16 UNF"))],
        |_| 0.000_5,
    );
}

#[test]
fn coarse_and_fine_unified_threads_are_those_of_printed_tables() {
    let coarse = [
        ("#4-40 UNC", 0.006_04),
        ("#6-32 UNC", 0.009_09),
        ("#8-32 UNC", 0.0140),
        ("#10-24 UNC", 0.0175),
        ("1/4-20 UNC", 0.0318),
        ("5/16-18 UNC", 0.0524),
        ("3/8-16 UNC", 0.0775),
        ("7/16-14 UNC", 0.1063),
        ("1/2-13 UNC", 0.1419),
        ("5/8-11 UNC", 0.226),
        ("3/4-10 UNC", 0.334),
        ("7/8-9 UNC", 0.462),
        ("1-8 UNC", 0.606),
    ];
    // The printed areas are rounded and cut in turn: two in a thousand, a wrong pitch makes forty.
    let tolerance = |printed: f32| printed * 2e-3;
    hold(
        "UNC thread dimensions, stress area in in², as read at a chart page",
        coarse.map(|(name, printed)| (name, printed, area_in2(name))),
        tolerance,
    );
    let fine = [
        ("#4-48 UNF", 0.0985, 0.006_61),
        ("#5-44 UNF", 0.1102, 0.0083),
        ("#6-40 UNF", 0.1218, 0.010_15),
        ("#8-36 UNF", 0.146, 0.014_74),
        ("#10-32 UNF", 0.1697, 0.02),
        ("#12-28 UNF", 0.1928, 0.0258),
        ("1/4-28 UNF", 0.2268, 0.0364),
        ("5/16-24 UNF", 0.2854, 0.058),
        ("3/8-24 UNF", 0.3479, 0.0878),
        ("7/16-20 UNF", 0.405, 0.1187),
        ("1/2-20 UNF", 0.4675, 0.1599),
        ("9/16-18 UNF", 0.5264, 0.203),
        ("5/8-18 UNF", 0.5889, 0.256),
        ("3/4-16 UNF", 0.7094, 0.373),
        ("7/8-14 UNF", 0.8286, 0.509),
        ("1-12 UNF", 0.9459, 0.663),
        ("1 1/8-12 UNF", 1.0709, 0.856),
        ("1 1/4-12 UNF", 1.1959, 1.073),
        ("1 3/8-12 UNF", 1.3209, 1.315),
        ("1 1/2-12 UNF", 1.4459, 1.581),
    ];
    let source = "UNF thread table, inches, as read in a reprint, to 1 1/8 in a second";
    hold(
        source,
        fine.map(|(name, _, printed)| (name, printed, area_in2(name))),
        tolerance,
    );
    hold(
        source,
        fine.map(|(name, d2, _)| (name, d2, thread(name).pitch_diameter_mm() / 25.4)),
        |_| 0.000_051,
    );
}
