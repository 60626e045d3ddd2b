//! Stated uncertainties of bolt torque against a Monte Carlo: errors of the inputs are drawn from
//! their stated distributions and propagated through the whole monitor (JCGM 101:2008, clause 7), and
//! the scatter of the output is held against what the law of propagation states (JCGM 100:2008).

mod rig;

use bolting_monitor::procedure::Direction;

use rig::{N, Rig, job};

const TRIALS: usize = 600;
const BOLT_NM: f32 = 20.0;
/// Torque zero of every joint as the rig's arm states it, N·m.
const ZERO_U_NM: f32 = 0.02;

/// Standard normal numbers by Box and Muller from a linear congruential generator.
struct Normal(u64);

impl Normal {
    fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    fn draw(&mut self) -> f32 {
        let (a, b) = (self.uniform(), self.uniform());
        ((-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()) as f32
    }
}

#[test]
fn the_stated_uncertainty_of_the_torque_is_its_scatter() {
    let tared = Rig::tared(&job(Direction::Tighten));
    let mut normal = Normal(42);
    let (mut errors, mut stated) = (Vec::new(), Vec::new());
    for trial in 0..TRIALS {
        let mut rig = tared.clone();
        rig.reseed(trial as u64 + 1);
        // What a tare cannot see: drift since.
        for i in 0..N {
            rig.zero_nm[i] = ZERO_U_NM * normal.draw();
        }
        let update = rig.step(BOLT_NM);
        assert!(update.torque_observable);
        errors.push(f64::from(update.torque_nm - BOLT_NM));
        stated.push(f64::from(update.torque_u_nm));
    }
    let n = TRIALS as f64;
    let mean = errors.iter().sum::<f64>() / n;
    let scatter = (errors.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let u = stated.iter().sum::<f64>() / n;
    let inside = errors
        .iter()
        .zip(&stated)
        .filter(|(e, u)| e.abs() <= 1.96 * **u)
        .count() as f64
        / n;
    println!("scatter {scatter:.4} N·m, stated {u:.4} N·m, mean {mean:.4} N·m, inside {inside:.3}");
    // The scatter of 600 trials is itself unsure by 3 %.
    assert!((scatter / u - 1.0).abs() < 0.12, "{scatter} against {u}");
    assert!(mean.abs() < 4.0 * u / n.sqrt() + 0.02 * u, "{mean}");
    assert!((0.925..0.975).contains(&inside), "{inside}");
}
