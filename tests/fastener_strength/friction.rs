//! Torque and preload: the long form, nut factors, measured scatter, stated uncertainty.

use bolting_monitor::fastener::{Band, Friction, FrictionClass, Thread, TorquePreload};

use crate::{near, thread};

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
    let thread = Thread::unified(0.75, 16.0);
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
        let k = TorquePreload::of(crate::thread(name))
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

/// Scatter of torque-controlled preload, lubricated: ±25 % (NASA NSTS 08307 and Machinery's Handbook,
/// read). An expanded uncertainty (k = 2) below it would be a fault, above twice it useless. The ±35 %
/// that both give for dry bolts are not reached: classes D and E come to about ±30 %, as did the dry
/// bolts of Blake and Kurtz (2 s = 29 %).
#[test]
fn stated_uncertainty_is_not_narrower_than_published_scatter() {
    for name in ["M6", "M10", "M20"] {
        let geometry = TorquePreload::of(thread(name));
        for class in [
            FrictionClass::A,
            FrictionClass::B,
            FrictionClass::C,
            FrictionClass::D,
            FrictionClass::E,
        ] {
            let p = geometry.preload(50.0, 0.0, &Band::ZERO, &class.into());
            let expanded = 2.0 * p.u_n / p.estimate_n;
            assert!(
                (0.25..0.5).contains(&expanded),
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
