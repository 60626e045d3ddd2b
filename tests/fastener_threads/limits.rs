//! Limits of size.

use bolting_monitor::fastener::{Limits, Thread};

use crate::{hold, thread};

fn limits(designation: &str) -> Limits {
    thread(designation).limits().expect(designation)
}

#[test]
fn limits_of_6g_agree_with_printed_ones() {
    let rows = [
        ("M5", 4.826, 4.361),
        ("M6", 5.794, 5.212),
        ("M8", 7.760, 7.042),
        ("M10", 9.732, 8.862),
        ("M12", 11.701, 10.679),
        ("M16", 15.682, 14.503),
        ("M20", 19.623, 18.164),
        ("M24", 23.577, 21.803),
        ("M30", 29.522, 27.462),
        ("M36", 35.465, 33.118),
    ];
    let source = "Thread Dimensions, Machine Screws METRIC (ISO 965/DIN 13 reprint), 6g";
    hold(
        source,
        rows.map(|(name, major, _)| (name, major, limits(name).external_major_min_mm)),
        |_| 0.000_05,
    );
    hold(
        source,
        rows.map(|(name, _, pitch)| (name, pitch, limits(name).external_pitch_min_mm)),
        |_| 0.000_05,
    );
}

#[test]
fn limits_of_6h_agree_with_iso_965_2_from_memory() {
    let rows = [
        ("M5", 4.334, 4.605),
        ("M6", 5.153, 5.500),
        ("M8", 6.912, 7.348),
        ("M10", 8.676, 9.206),
        ("M12", 10.441, 11.063),
        ("M14", 12.210, 12.913),
        ("M16", 14.210, 14.913),
        ("M20", 17.744, 18.600),
        ("M24", 21.252, 22.316),
        ("M30", 26.771, 28.007),
        ("M36", 32.270, 33.702),
    ];
    let source = "ISO 965-2, 6H, from memory";
    hold(
        source,
        rows.map(|(name, minor, _)| (name, minor, limits(name).internal_minor_max_mm)),
        |_| 0.000_05,
    );
    hold(
        source,
        rows.map(|(name, _, pitch)| (name, pitch, limits(name).internal_pitch_max_mm)),
        |_| 0.000_05,
    );
}

#[test]
fn limits_of_2a_and_2b_agree_with_asme_b1_1_from_memory() {
    let rows = [
        ("#10-32 UNF", [0.1831, 0.1658, 0.164, 0.1736]),
        ("1/4-20 UNC", [0.2408, 0.2127, 0.207, 0.2224]),
        ("3/8-16 UNC", [0.3643, 0.3287, 0.321, 0.3401]),
        ("1/2-13 UNC", [0.4876, 0.4435, 0.434, 0.4565]),
        ("1/2-20 UNF", [0.4906, 0.4619, 0.457, 0.4731]),
        ("1/2-28 UNEF", [0.4924, 0.4720, 0.470, 0.4816]),
        ("3/4-16 UNF", [0.7391, 0.7029, 0.696, 0.7159]),
        ("1-8 UNC", [0.9830, 0.9100, 0.890, 0.9276]),
        ("1 1/2-8 UN", [1.4828, 1.4093, 1.390, 1.4283]),
    ];
    let inches = |ours: f32| ours / 25.4;
    let source = "ASME B1.1, 2A and 2B in inches, from memory";
    // Printed limits are sums of up to three figures, each rounded to 0.000 1 in.
    for (name, [major, pitch, minor, internal_pitch]) in rows {
        let ours = limits(name);
        hold(
            source,
            [
                (name, major, inches(ours.external_major_min_mm)),
                (name, pitch, inches(ours.external_pitch_min_mm)),
                (name, internal_pitch, inches(ours.internal_pitch_max_mm)),
            ],
            |_| 0.000_15,
        );
        hold(
            source,
            [(name, minor, inches(ours.internal_minor_max_mm))],
            |_| 0.000_55,
        );
    }
}

#[test]
fn limits_lie_within_the_profile_for_every_listed_thread() {
    for thread in Thread::listed() {
        let l = thread.limits().unwrap_or_else(|| panic!("{thread}"));
        assert!(l.external_major_min_mm < thread.diameter_mm, "{thread}");
        assert!(
            l.external_pitch_min_mm < thread.pitch_diameter_mm(),
            "{thread}"
        );
        assert!(
            l.internal_minor_max_mm > thread.minor_diameter_mm(),
            "{thread}"
        );
        assert!(
            l.internal_pitch_max_mm > thread.pitch_diameter_mm(),
            "{thread}"
        );
        // Teeth that bear at all, and by less than a cylinder without gaps.
        let areas = thread.shear_areas(1.0).unwrap();
        let cylinder_mm2 = std::f32::consts::PI * thread.diameter_mm;
        for area_mm2 in [areas.external_mm2, areas.internal_mm2] {
            let part = area_mm2 / cylinder_mm2;
            assert!(part > 0.25 && part < 1.0, "{thread}: {part}");
        }
    }
}
