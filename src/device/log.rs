//! A finding in one line, for the log that a technician reads at the controller.

use core::fmt;

use crate::detect::Finding;

/// One line for a finding: name, bolt angle in degrees, torque with its standard uncertainty, and
/// whether it stops: `strip at 1278.4 deg, torque 31.2 +/- 0.5 N m, STOP`.
///
/// Writes whole numbers only, so that a controller needs no formatting of floating point; with the
/// feature `defmt` it is logged as it is: `defmt::warn!("{}", LogLine(&finding))`.
#[derive(Clone, Copy, Debug)]
pub struct LogLine<'a>(pub &'a Finding);

impl fmt::Display for LogLine<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let finding = self.0;
        let angle = Tenths(finding.angle_rad.to_degrees());
        write!(f, "{} at {angle} deg, torque ", finding.kind.name())?;
        // Where nothing tells it, no number may stand in its place.
        if finding.torque_nm.is_nan() {
            f.write_str("not observable")?;
        } else {
            let (torque, u) = (Tenths(finding.torque_nm), Tenths(finding.torque_u_nm));
            write!(f, "{torque} +/- {u} N m")?;
        }
        f.write_str(if finding.stops() { ", STOP" } else { "" })
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for LogLine<'_> {
    fn format(&self, to: defmt::Formatter<'_>) {
        defmt::write!(to, "{}", defmt::Display2Format(self));
    }
}

/// A figure to one decimal place; what is none, or absurdly large, is a dash.
struct Tenths(f32);

impl fmt::Display for Tenths {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let magnitude = self.0.abs() * 10.0 + 0.5;
        // Negated, so that NaN is caught.
        if !(magnitude < 1e9) {
            return f.write_str("-");
        }
        let tenths = magnitude as u32;
        let sign = if self.0 < 0.0 && tenths > 0 { "-" } else { "" };
        write!(f, "{sign}{}.{}", tenths / 10, tenths % 10)
    }
}

#[cfg(test)]
mod tests {
    extern crate std;

    use std::string::ToString;

    use super::*;
    use crate::detect::{FindingKind, Quantity};

    fn finding(kind: FindingKind) -> Finding {
        Finding {
            kind,
            time_us: 3_250_000,
            angle_rad: 22.312_288,
            torque_nm: 31.24,
            torque_u_nm: 0.46,
            slope_nm_per_rad: -6.5,
            slope_u_nm_per_rad: 0.25,
            advance_ratio: None,
            quantity: Quantity::DropNm,
            value: 5.5,
            limit: 3.0,
            place: None,
            likely: None,
            runner_up: None,
        }
    }

    #[test]
    fn a_finding_is_one_line_in_the_units_of_the_trade() {
        assert_eq!(
            LogLine(&finding(FindingKind::Strip)).to_string(),
            "strip at 1278.4 deg, torque 31.2 +/- 0.5 N m, STOP"
        );
        assert_eq!(
            LogLine(&Finding {
                torque_nm: f32::NAN,
                ..finding(FindingKind::TorqueNotObservable)
            })
            .to_string(),
            "torque_not_observable at 1278.4 deg, torque not observable"
        );
    }

    #[test]
    fn tenths_are_those_of_the_standard_library() {
        for x in [0.0, 0.04, -0.04, 0.26, -0.26, 9.96, -31.24, 12_345.67] {
            let expected = std::format!("{x:.1}").replace("-0.0", "0.0");
            assert_eq!(Tenths(x).to_string(), expected);
        }
        for x in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX] {
            assert_eq!(Tenths(x).to_string(), "-");
        }
    }
}
