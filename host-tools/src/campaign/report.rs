//! Figures of a campaign, for people.

use std::fmt;

use super::run::Scored;

/// A scored campaign, ready to be printed.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    runs: &'a [Scored],
}

impl<'a> Report<'a> {
    /// Of these runs.
    pub fn new(runs: &'a [Scored]) -> Self {
        Self { runs }
    }

    /// Runs that a reader would want to look at: wrong stop, missed fault, large error.
    pub fn worth_a_look(&self) -> impl Iterator<Item = &'a Scored> + '_ {
        self.runs.iter().filter(|r| {
            r.false_stop()
                || (!r.sound() && !r.found())
                || (r.sound() && r.verdict != "accepted")
                || (r.sound() && (r.snug_missed || r.snug_error_deg.is_some_and(|e| e.abs() > 6.0)))
                || (r.sound() && r.torque_error_nm.abs() > 2.6 * r.torque_u_nm)
        })
    }
}

/// The value below which the part `p` of the values lies (nearest rank).
fn quantile(mut values: Vec<f64>, p: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    values.sort_by(f64::total_cmp);
    let rank = (p * values.len() as f64).ceil() as usize;
    values[rank.clamp(1, values.len()) - 1]
}

fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (n, square) = values.fold((0_usize, 0.0), |(n, s), x| (n + 1, s + x * x));
    (square / n as f64).sqrt()
}

/// Wilson interval (95 %) of `hits` of `n`, percent (Wilson 1927).
fn interval(hits: usize, n: usize) -> (f64, f64) {
    if n == 0 {
        return (f64::NAN, f64::NAN);
    }
    let (n, z) = (n as f64, 1.96_f64);
    let p = hits as f64 / n;
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    (
        100.0 * (middle - half).max(0.0),
        100.0 * (middle + half).min(1.0),
    )
}

impl fmt::Display for Report<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sound: Vec<&Scored> = self.runs.iter().filter(|r| r.sound()).collect();
        writeln!(f, "{} runs, {} of them sound", self.runs.len(), sound.len())?;

        let (low, high): (Vec<&Scored>, Vec<&Scored>) = sound
            .iter()
            .copied()
            .partition(|r| r.floor_nm < 0.01 * r.target_nm);
        writeln!(
            f,
            "torque where the floor is below 1 % of target: RMS {:.2} % of target ({} runs)",
            100.0 * rms(low.iter().map(|r| r.torque_part())),
            low.len()
        )?;
        writeln!(
            f,
            "torque elsewhere: RMS {:.2} of the floor ({} runs)",
            rms(high.iter().map(|r| r.torque_error_nm / r.floor_nm)),
            high.len()
        )?;
        let covered = sound
            .iter()
            .filter(|r| r.torque_error_nm.abs() <= 1.96 * r.torque_u_nm)
            .count();
        fraction(f, "torque within its 95 % interval", covered, sound.len())?;

        let snug: Vec<f64> = sound
            .iter()
            .filter_map(|r| r.snug_error_deg)
            .map(f64::abs)
            .collect();
        writeln!(
            f,
            "snug angle error: median {:.2}°, 95 % {:.2}°, worst {:.1}° ({} runs, {} without)",
            quantile(snug.clone(), 0.5),
            quantile(snug.clone(), 0.95),
            quantile(snug.clone(), 1.0),
            snug.len(),
            sound.iter().filter(|r| r.snug_missed).count()
        )?;
        for (fault, width) in [("strip", "15"), ("cross_thread", "90")] {
            let runs: Vec<_> = self.runs.iter().filter(|r| r.fault == fault).collect();
            let found: Vec<&Scored> = runs.iter().copied().filter(|r| r.found()).collect();
            fraction(
                f,
                &format!("{fault} found and named"),
                found.len(),
                runs.len(),
            )?;
            let stop_at = |r: &Scored| r.stop.as_ref().map_or(f64::NAN, |s| s.at_deg);
            let after = |reference: fn(&Scored) -> f64| {
                let delays: Vec<f64> = found.iter().map(|r| stop_at(r) - reference(r)).collect();
                (quantile(delays.clone(), 0.5), quantile(delays, 0.95))
            };
            let (median, most) = after(|r| r.onset_deg.unwrap_or(f64::NAN));
            writeln!(
                f,
                "  delay after onset: median {median:.1}°, 95 % {most:.1}° (wanted {width}°)"
            )?;
            if fault == "strip" {
                let (median, most) = after(|r| r.peak_deg);
                writeln!(
                    f,
                    "  delay after the torque began to fall: median {median:.1}°, 95 % {most:.1}°"
                )?;
            } else {
                let parts = found
                    .iter()
                    .filter_map(|r| r.stop.as_ref())
                    .map(|s| s.torque_part);
                writeln!(
                    f,
                    "  torque at the stop: 95 % below {:.0} % of target",
                    100.0 * quantile(parts.collect(), 0.95)
                )?;
            }
        }
        let stops = self
            .runs
            .iter()
            .filter(|r| r.sound() && r.false_stop())
            .count();
        fraction(f, "false stops of sound runs", stops, sound.len())?;
        let early = self
            .runs
            .iter()
            .filter(|r| !r.sound() && r.false_stop())
            .count();
        fraction(
            f,
            "stops before the onset of a fault",
            early,
            self.runs.len() - sound.len(),
        )?;
        let accepted = sound.iter().filter(|r| r.verdict == "accepted").count();
        fraction(f, "sound runs accepted", accepted, sound.len())?;
        let faulty: Vec<_> = self.runs.iter().filter(|r| !r.sound()).collect();
        let wrongly = faulty.iter().filter(|r| r.verdict == "accepted").count();
        fraction(f, "faulty runs accepted", wrongly, faulty.len())?;
        let samples: usize = self.runs.iter().map(|r| r.samples).sum();
        let seconds: f64 = self.runs.iter().map(|r| r.monitor_s).sum();
        writeln!(
            f,
            "monitor: {:.0} samples/s on one core",
            samples as f64 / seconds
        )
    }
}

fn fraction(f: &mut fmt::Formatter<'_>, what: &str, hits: usize, n: usize) -> fmt::Result {
    let (low, high) = interval(hits, n);
    writeln!(
        f,
        "{what}: {hits} of {n} = {:.1} % (95 % interval {low:.1} to {high:.1} %)",
        100.0 * hits as f64 / n as f64
    )
}
