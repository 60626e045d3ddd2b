//! The f32 functions the street needs, in one place, each with its error and cost.
//!
//! Every function here gives the same bits on x86-64 and on a Cortex-M4F: only IEEE 754 basic
//! operations, no fused multiply-add, no f64. Costs are instructions on an emulated Cortex-M4F at
//! `opt-level = 3`; errors were taken over the stated range against f64.

/// A column of three: position in m, direction, force in N or moment in N·m, as the name says.
pub type Vec3 = [f32; 3];

/// A rotation matrix, row by row; columns are the axes of the rotated frame.
pub type Mat3 = [[f32; 3]; 3];

/// π as f32.
pub const PI: f32 = core::f32::consts::PI;
/// tan 30° = 1/√3.
pub const TAN_30: f32 = 0.577_350_27;
/// 2π as f32: one turn in rad.
pub const TAU: f32 = core::f32::consts::TAU;

/// Identity rotation.
pub const IDENTITY: Mat3 = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// Square root; 0 for anything that has none (negative, NaN), so that no NaN is made here.
/// Within one unit in the last place, about 35 instructions (libm's, exact, takes 45).
// A call: inlined at all of some hundred places it makes 9 kB.
#[inline(never)]
pub fn sqrt(x: f32) -> f32 {
    if !(x > SMALLEST && x < f32::INFINITY) {
        return rare_sqrt(x);
    }
    let y = newton_per_sqrt(x);
    let s = x * y;
    s + 0.5 * y * (x - s * s)
}

#[cold]
#[inline(never)]
fn rare_sqrt(x: f32) -> f32 {
    if x > 0.0 { libm::sqrtf(x) } else { 0.0 }
}

/// One over the square root, relative error ≤ 3e-7, about 25 instructions. 0 for what has none (zero,
/// negative, subnormal, NaN) and for infinity.
pub fn per_sqrt(x: f32) -> f32 {
    if x > SMALLEST && x < f32::INFINITY {
        newton_per_sqrt(x)
    } else {
        0.0
    }
}

/// The smallest f32 with all its digits.
const SMALLEST: f32 = f32::MIN_POSITIVE;

/// A first guess by halving the exponent (3 % off, common practice), then three Newton steps, each of
/// which squares the error.
fn newton_per_sqrt(x: f32) -> f32 {
    let half = 0.5 * x;
    let mut y = f32::from_bits(0x5f37_59df - (x.to_bits() >> 1));
    y *= 1.5 - half * y * y;
    y *= 1.5 - half * y * y;
    y * (1.5 - half * y * y)
}

/// Four-quadrant arc tangent in rad, (−π, π]; absolute error ≤ 2.5e-7 (libm), about 50 instructions.
pub fn atan2(y: f32, x: f32) -> f32 {
    libm::atan2f(y, x)
}

/// Natural logarithm; 0 for anything that has none (zero, negative, NaN), so that no NaN is made
/// here. Relative error ≤ 1.2e-7 (libm); used off the sample path, so its cost was not measured.
pub fn ln(x: f32) -> f32 {
    if x > 0.0 { libm::logf(x) } else { 0.0 }
}

/// Limits of a number by one comparison each: [`f32::max`] and [`f32::min`] are calls of some 25
/// instructions on targets without such an instruction. What is no number becomes the limit.
pub trait Limited {
    /// This, or `least` where it is less.
    fn at_least(self, least: Self) -> Self;
    /// This, or `most` where it is more.
    fn at_most(self, most: Self) -> Self;
}

impl Limited for f32 {
    #[inline(always)]
    fn at_least(self, least: Self) -> Self {
        if self > least { self } else { least }
    }

    #[inline(always)]
    fn at_most(self, most: Self) -> Self {
        if self < most { self } else { most }
    }
}

/// `x` within ±`most`; 0 for what is no number. One comparison where it is within.
#[inline(always)]
pub fn within(x: f32, most: f32) -> f32 {
    if x.abs() <= most {
        x
    } else if x.is_nan() {
        0.0
    } else {
        most.copysign(x)
    }
}

/// Largest whole number not above `x`, as f32; exact for every finite `x`.
pub fn floor(x: f32) -> f32 {
    // Above 2^23 every f32 is whole already, and the cast below would saturate.
    if !(x > -8_388_608.0 && x < 8_388_608.0) {
        return x;
    }
    let t = x as i32 as f32;
    if t > x { t - 1.0 } else { t }
}

/// Sine and cosine of an angle in rad, absolute error ≤ 3e-7 for |x| ≤ 100 rad (checked by test);
/// about 55 instructions for the pair. Outside that range the error grows with |x|·6e-8, as the
/// f32 argument itself does. Beyond 1e5 rad and for what is no number (0, 1): a pose, never a NaN.
pub fn sin_cos(x: f32) -> (f32, f32) {
    // Beyond this an f32 no longer tells one degree from the next; NaN fails the test too.
    if !(x.abs() < 1e5) {
        return (0.0, 1.0);
    }
    // Quarter turns, then a three-part π/2 so that the reduction keeps its last bits.
    let k = floor(x * core::f32::consts::FRAC_2_PI + 0.5);
    let r = ((x - k * 1.570_312_5) - k * 4.837_512_969_970_703e-4) - k * 7.549_789_948_768_648e-8;
    let r2 = r * r;
    // Minimax coefficients on [−π/4, π/4] (the usual single-precision kernels).
    let s = r + r * r2 * (-1.666_665_5e-1 + r2 * (8.332_161e-3 + r2 * -1.951_529_6e-4));
    let c =
        1.0 - 0.5 * r2 + r2 * r2 * (4.166_664_6e-2 + r2 * (-1.388_731_6e-3 + r2 * 2.443_315_7e-5));
    match (k as i32) & 3 {
        0 => (s, c),
        1 => (c, -s),
        2 => (-s, -c),
        _ => (-c, s),
    }
}

/// Sum of products of two columns.
pub fn dot(a: &Vec3, b: &Vec3) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Cross product a × b.
pub fn cross(a: &Vec3, b: &Vec3) -> Vec3 {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// a + b.
pub fn add(a: &Vec3, b: &Vec3) -> Vec3 {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// a − b.
pub fn sub(a: &Vec3, b: &Vec3) -> Vec3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// s · a.
pub fn scale(a: &Vec3, s: f32) -> Vec3 {
    [a[0] * s, a[1] * s, a[2] * s]
}

/// Euclidean length.
pub fn norm(a: &Vec3) -> f32 {
    sqrt(dot(a, a))
}

/// Unit column along `a`, or `None` when `a` has no direction (zero or not finite).
pub fn unit(a: &Vec3) -> Option<Vec3> {
    let n = norm(a);
    if n > 1e-9 && n.is_finite() {
        Some(scale(a, 1.0 / n))
    } else {
        None
    }
}

/// R · v.
pub fn rotate(r: &Mat3, v: &Vec3) -> Vec3 {
    [dot(&r[0], v), dot(&r[1], v), dot(&r[2], v)]
}

/// Rᵀ · v.
pub fn rotate_back(r: &Mat3, v: &Vec3) -> Vec3 {
    [
        r[0][0] * v[0] + r[1][0] * v[1] + r[2][0] * v[2],
        r[0][1] * v[0] + r[1][1] * v[1] + r[2][1] * v[2],
        r[0][2] * v[0] + r[1][2] * v[1] + r[2][2] * v[2],
    ]
}

/// A · B.
pub fn mat_mul(a: &Mat3, b: &Mat3) -> Mat3 {
    let mut out = [[0.0; 3]; 3];
    for (row, o) in a.iter().zip(out.iter_mut()) {
        for (j, cell) in o.iter_mut().enumerate() {
            *cell = match j {
                0 => row[0] * b[0][0] + row[1] * b[1][0] + row[2] * b[2][0],
                1 => row[0] * b[0][1] + row[1] * b[1][1] + row[2] * b[2][1],
                _ => row[0] * b[0][2] + row[1] * b[1][2] + row[2] * b[2][2],
            };
        }
    }
    out
}

/// Aᵀ.
pub fn transposed(a: &Mat3) -> Mat3 {
    [
        [a[0][0], a[1][0], a[2][0]],
        [a[0][1], a[1][1], a[2][1]],
        [a[0][2], a[1][2], a[2][2]],
    ]
}

/// Rotation by `angle_rad` about the unit column `axis` (Rodrigues).
pub fn axis_rotation(axis: &Vec3, angle_rad: f32) -> Mat3 {
    let (s, c) = sin_cos(angle_rad);
    let v = 1.0 - c;
    let [x, y, z] = *axis;
    [
        [c + x * x * v, x * y * v - z * s, x * z * v + y * s],
        [y * x * v + z * s, c + y * y * v, y * z * v - x * s],
        [z * x * v - y * s, z * y * v + x * s, c + z * z * v],
    ]
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;

    #[test]
    fn sine_and_cosine_hold_their_stated_error() {
        let mut worst = 0.0_f64;
        for i in -1_000_000..=1_000_000_i32 {
            let x = i as f32 * 1e-4;
            let (s, c) = sin_cos(x);
            let (es, ec) = (f64::from(x).sin(), f64::from(x).cos());
            worst = worst
                .max((f64::from(s) - es).abs())
                .max((f64::from(c) - ec).abs());
        }
        std::println!("worst sin/cos error over ±100 rad: {worst:e}");
        assert!(worst <= 3e-7, "{worst:e}");
    }

    #[test]
    fn the_logarithm_holds_its_stated_error() {
        let mut worst = 0.0_f64;
        for i in 1..=1_000_000_u32 {
            for x in [i as f32 * 1e-5, i as f32 * 1e-2] {
                let exact = f64::from(x).ln();
                if exact != 0.0 {
                    worst = worst.max((f64::from(ln(x)) / exact - 1.0).abs());
                }
            }
        }
        std::println!("worst relative error of ln from 1e-5 to 1e4: {worst:e}");
        assert!(worst <= 1.2e-7, "{worst:e}");
        assert_eq!([0.0, -1.0, f32::NAN].map(ln), [0.0; 3]);
    }

    #[test]
    fn square_roots_hold_their_stated_errors() {
        let (mut worst, mut worst_per) = (0.0_f64, 0.0_f64);
        // Every 1009th f32 from the smallest normal to the largest.
        for bits in (0x0080_0001..0x7f7f_ffff_u32).step_by(1009) {
            let x = f32::from_bits(bits);
            let exact = f64::from(x).sqrt();
            worst = worst.max((f64::from(sqrt(x)) / exact - 1.0).abs());
            worst_per = worst_per.max((f64::from(per_sqrt(x)) * exact - 1.0).abs());
        }
        std::println!("worst sqrt {worst:e}, per_sqrt {worst_per:e}");
        // One unit in the last place is 2⁻²³ of the number, or less.
        assert!(worst <= 1.2e-7, "{worst:e}");
        assert!(worst_per <= 3e-7, "{worst_per:e}");
        assert_eq!((sqrt(0.0), sqrt(1e-45) > 0.0), (0.0, true));
    }

    #[test]
    fn floor_is_exact_on_both_sides_of_zero_and_far_out() {
        for x in [
            -2.5_f32,
            -2.0,
            -0.1,
            0.0,
            0.9,
            1.0,
            7.99,
            1e9,
            -1e9,
            8_388_609.0,
        ] {
            assert_eq!(floor(x), std::primitive::f32::floor(x));
        }
    }

    #[test]
    fn nothing_here_makes_a_nan_from_a_bad_number() {
        for x in [
            f32::NAN,
            f32::INFINITY,
            f32::NEG_INFINITY,
            -1.0,
            1e30,
            -1e12,
        ] {
            assert!(!sqrt(x).is_nan() && !per_sqrt(x).is_nan());
            let (s, c) = sin_cos(x);
            assert!(s.is_finite() && c.is_finite());
        }
        assert_eq!(unit(&[0.0; 3]), None);
        assert_eq!(unit(&[f32::NAN, 0.0, 0.0]), None);
    }
}
