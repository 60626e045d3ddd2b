//! What is refused, and what is told.

use bolting_monitor::fastener::{
    Band, Clamp, Fastener, Forecast, Friction, Joint, Locking, Material, Mating, Severity, Thread,
    ThreadSystem,
};

use crate::{flange_bolt, material};

pub(crate) fn keys(fastener: &Fastener, target_nm: Option<f32>) -> Vec<(String, Severity)> {
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

/// Into aluminium (invented alloy figures) 6 mm of an M10 12.9 thread strip before the bolt yields.
#[test]
fn a_thread_that_strips_first_is_told_and_bounds_the_target() {
    let mut weak = flange_bolt();
    weak.bolt = Some(material("12.9", 10.0));
    weak.mating = Some(Mating {
        material: Material {
            yield_mpa: 200.0,
            tensile_mpa: 260.0,
            proof_mpa: None,
            modulus_gpa: 70.0,
            shear_part: 0.6,
        },
        engagement_mm: 6.0,
    });
    assert_eq!(
        keys(&weak, None),
        [("mating.engagement_mm".into(), Severity::Warned)]
    );
    let forecast = Forecast::of(&weak, None);
    let strip = forecast.strip_nm.unwrap();
    assert!(strip.max < forecast.yield_nm.unwrap().max, "{forecast:?}");
    let severity = |target| {
        weak.faults(Some(target))
            .filter(|f| f.part == "target")
            .map(|f| f.severity)
            .next()
    };
    assert_eq!(severity(0.99 * strip.min), None);
    assert_eq!(
        severity(0.5 * (strip.min + strip.max)),
        Some(Severity::Warned)
    );
    assert_eq!(severity(1.01 * strip.max), Some(Severity::Refused));
    // The published shear area (Bickford's table, 214.77 mm² at 10 mm) gives the load without bending.
    let plain_n = 0.6 * 260.0 * 214.77 * 0.6;
    let lever_mm = weak.torque_preload().lever_band_mm(&weak.friction.unwrap());
    let plain = lever_mm.times(1e-3 * plain_n);
    assert!(
        strip.contains(plain.min) && strip.contains(plain.max),
        "{strip:?}, {plain:?}"
    );
}

/// ISO 2320 (read): M10, first assembly at most 10.5 N·m, first removal at least 1.5, fifth 1.0.
#[test]
fn locking_features_keep_to_the_standard_unless_stated() {
    let band = |locking| {
        Fastener {
            locking,
            ..flange_bolt()
        }
        .prevailing_nm()
    };
    assert_eq!(band(None), Some(Band::new(0.0, 10.5)));
    assert_eq!(
        band(Some(Locking::Standard { reused: false })),
        Some(Band::new(1.5, 10.5))
    );
    assert_eq!(
        band(Some(Locking::Standard { reused: true })),
        Some(Band::new(1.0, 10.5))
    );
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
