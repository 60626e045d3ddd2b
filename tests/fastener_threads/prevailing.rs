//! Torque of locking features.

use bolting_monitor::fastener::{Band, Reuse};

use crate::{hold, thread};

#[test]
fn locking_torque_agrees_with_iso_2320() {
    let rows = [
        ("M3", [0.43, 0.12, 0.08]),
        ("M4", [0.9, 0.18, 0.12]),
        ("M5", [1.6, 0.29, 0.2]),
        ("M6", [3.0, 0.45, 0.3]),
        ("M8", [6.0, 0.85, 0.6]),
        ("M10", [10.5, 1.5, 1.0]),
        ("M12", [15.5, 2.3, 1.6]),
        ("M14", [24.0, 3.3, 2.3]),
        ("M16", [32.0, 4.5, 3.0]),
        ("M20", [54.0, 7.5, 5.3]),
        ("M24", [80.0, 11.5, 8.0]),
        ("M30", [108.0, 16.0, 12.0]),
        ("M36", [136.0, 21.0, 16.0]),
    ];
    for (name, [assembly, first_removal, fifth_removal]) in rows {
        let thread = thread(name);
        let torque = thread.prevailing_torque().expect(name);
        hold(
            "ISO 2320 (2008 era), class 04, as read at a table page",
            [
                (name, assembly, torque.first_assembly_max_nm),
                (name, first_removal, torque.first_removal_min_nm),
                (name, fifth_removal, torque.fifth_removal_min_nm),
            ],
            |_| 0.0,
        );
        assert_eq!(thread.reuse_min_nm(), Some(fifth_removal), "{name}");
        let band = |min| Band { min, max: assembly };
        assert_eq!(torque.band(Reuse::First), band(first_removal), "{name}");
        assert_eq!(torque.band(Reuse::Reused), band(fifth_removal), "{name}");
    }
    let most_nm = |name| (thread(name).prevailing_torque()).map(|nm| nm.first_assembly_max_nm);
    assert_eq!(most_nm("M10x1.25"), Some(10.5));
    assert_eq!(most_nm("M18"), None);
    assert_eq!(most_nm("3/8-24"), None);
}

#[test]
fn used_unified_nuts_are_held_to_army_manuals() {
    let rows = [
        ("10-32", 2.0),
        ("1/4-28", 3.5),
        ("5/16-24", 6.5),
        ("3/8-24", 9.5),
        ("7/16-20", 14.0),
        ("1/2-20", 18.0),
        ("5/8-18", 32.0),
        ("3/4-16", 50.0),
        ("1-12", 90.0),
    ];
    // 1 lbf·in = 4.448 221 6 N × 25.4 mm, exact by definition.
    let lbf_in = |name: &str| thread(name).reuse_min_nm().expect(name) / (4.448_221_6 * 0.025_4);
    hold(
        "minimum breakaway torque of used self-locking nuts, lbf·in, US Army technical manuals",
        rows.map(|(name, printed)| (name, printed, lbf_in(name))),
        |printed| printed * 1e-5,
    );
    assert_eq!(thread("1/4-20").reuse_min_nm(), None);
}
