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
fn stress_areas_of_fine_threads_agree_with_iso_898_1_from_memory() {
    let rows = [
        ("M8x1", 39.2),
        ("M10x1", 64.5),
        ("M10x1.25", 61.2),
        ("M12x1.25", 92.1),
        ("M12x1.5", 88.1),
        ("M14x1.5", 125.0),
        ("M16x1.5", 167.0),
        ("M18x1.5", 216.0),
        ("M20x1.5", 272.0),
        ("M22x1.5", 333.0),
        ("M24x2", 384.0),
        ("M27x2", 496.0),
        ("M30x2", 621.0),
        ("M36x3", 865.0),
    ];
    hold(
        "ISO 898-1 tables 6 and 7, from memory",
        rows.map(|(name, printed)| (name, printed, thread(name).stress_area_mm2())),
        three_figures,
    );
}

const SQUARE_INCH_MM2: f32 = 25.4 * 25.4;

#[test]
fn the_stress_area_of_a_unified_thread_is_that_of_a_textbook_example() {
    let area_in2 = thread("3/4-16 UNF").stress_area_mm2() / SQUARE_INCH_MM2;
    hold(
        "Shigley, 9th ed., example 8-3, in², as read in a scan",
        [("3/4-16 UNF", 0.373, area_in2)],
        |_| 0.000_5,
    );
    let rows = [
        ("1/4-20 UNC", 0.031_8),
        ("3/8-16 UNC", 0.077_5),
        ("1/2-13 UNC", 0.141_9),
        ("1/2-20 UNF", 0.159_9),
        ("1-8 UNC", 0.606),
    ];
    hold(
        "ASME B1.1, stress areas in in², from memory",
        rows.map(|(name, printed)| {
            (
                name,
                printed,
                thread(name).stress_area_mm2() / SQUARE_INCH_MM2,
            )
        }),
        |printed| if printed < 0.5 { 0.000_06 } else { 0.000_6 },
    );
}
