//! Figures of a campaign, for people: Markdown.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use super::figures::{Share, quantile, rms};
use super::run::Scored;

/// Elastic part, degrees, below which no snug angle is asked for to within three degrees.
const SHORT_DEG: f64 = 20.0;

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
                || (r.faulty() && r.found().is_none())
                || (r.plain()
                    && (r.verdict != "accepted"
                        || r.snug_missed
                        || r.snug_error_deg.is_some_and(|e| e.abs() > 6.0)
                        || r.torque_error_nm.abs() > 2.6 * r.torque_u_nm))
        })
    }

    /// Samples that the monitor took in a second, on one core.
    pub fn samples_per_s(&self) -> f64 {
        let samples: usize = self.runs.iter().map(|r| r.samples).sum();
        let seconds: f64 = self.runs.iter().map(|r| r.monitor_s).sum();
        samples as f64 / seconds
    }

    fn plain(&self) -> impl Iterator<Item = &'a Scored> + Clone + use<'a> {
        self.runs.iter().filter(|r| r.plain())
    }

    fn undone(&self) -> impl Iterator<Item = &'a Scored> + Clone + use<'a> {
        let sound = |r: &&Scored| r.undone && r.fault == "none" && r.free_deg.is_some();
        self.runs.iter().filter(sound)
    }

    fn sound_figures(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (low, high): (Vec<&Scored>, Vec<&Scored>) =
            self.plain().partition(|r| r.floor_nm < 0.01 * r.target_nm);
        writeln!(f, "## Bolts without fault, done up\n")?;
        writeln!(
            f,
            "- torque where the floor is below 1 % of target: RMS {} % of target ({} runs)",
            told(100.0 * rms(low.iter().map(|r| r.torque_part())), 2),
            low.len()
        )?;
        writeln!(
            f,
            "- torque elsewhere: RMS {} of the floor ({} runs)",
            told(rms(high.iter().map(|r| r.torque_error_nm / r.floor_nm)), 2),
            high.len()
        )?;
        let covered = Share::of(self.plain(), |r| {
            r.torque_error_nm.abs() <= 1.96 * r.torque_u_nm
        });
        writeln!(f, "- torque within its 95 % interval: {covered}")?;
        let snug = || self.plain().filter_map(|r| r.snug_error_deg).map(f64::abs);
        let short = (self.plain()).filter(|r| r.elastic_deg < SHORT_DEG).count();
        writeln!(
            f,
            "- snug angle error: median {}°, 95 % {}°, worst {}° ({} runs, {} without; {short} with an \
             elastic part below {SHORT_DEG}°)",
            told(quantile(snug().collect(), 0.5), 2),
            told(quantile(snug().collect(), 0.95), 2),
            told(quantile(snug().collect(), 1.0), 1),
            snug().count(),
            self.plain().filter(|r| r.snug_missed).count()
        )?;
        let own = || {
            (self.plain()).filter_map(|r| Some((r.snug_error_deg? - r.snug_angle_error_deg?).abs()))
        };
        let within = Share::of(self.plain().filter(|r| r.snug_error_deg.is_some()), |r| {
            let error_deg = r.snug_error_deg.unwrap_or(0.0);
            error_deg.abs() <= 1.96 * r.snug_u_deg.unwrap_or(0.0)
        });
        writeln!(
            f,
            "- of it not from the bolt angle itself (joined strokes, wind-up): median {:.2}°, 95 % {:.2}°; snug within \
             its 95 % interval: {within}",
            quantile(own().collect(), 0.5),
            quantile(own().collect(), 0.95),
        )?;
        let accepted = Share::of(self.plain(), |r| r.verdict == "accepted");
        writeln!(f, "- accepted: {accepted}\n")
    }

    fn undone_figures(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let late: Vec<f64> = self
            .undone()
            .filter_map(|r| Some(r.saying("thread_free")?.at_deg - r.free_deg?))
            .collect();
        writeln!(f, "## Bolts without fault, undone\n")?;
        let loose = Share::of(self.undone(), |r| r.saying("breakaway").is_some());
        writeln!(f, "- breakaway told: {loose}")?;
        let free = Share::of(self.undone(), |r| r.saying("thread_free").is_some());
        writeln!(
            f,
            "- thread free told: {free}; after the last thread: median {}, 5 % {}, 95 % {}\n",
            degrees(quantile(late.clone(), 0.5)),
            degrees(quantile(late.clone(), 0.05)),
            degrees(quantile(late, 0.95))
        )
    }

    fn faults(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // A yield that is wanted, and stops where it was to stop, need not be said.
        let unsaid = |r: &Scored| r.fault == "yield_onset" && r.sound;
        let mut causes: BTreeMap<(&str, bool), Vec<&Scored>> = BTreeMap::new();
        for r in self.runs.iter().filter(|r| r.faulty() && !unsaid(r)) {
            causes.entry((&r.cause, r.undone)).or_default().push(r);
        }
        writeln!(
            f,
            "## Faults\n\n*Found*: the finding that is due, as the first stop where a stop is due, not before the \
             onset; a torque that truly was too much may be stopped for before a strip or a fracture, a yield \
             or a bolt that stood against its recorded torque before a fracture. *Detected*: anything said against the bolt from the onset on. Intervals are 95 %, \
             after Wilson. Delay: bolt angle from the onset to the finding. Galling done up begins 1.6 turns after the \
             start at the earliest: a thread that binds in its first turns is told as crossed, and is not drawn.\n"
        )?;
        writeln!(
            f,
            "| cause | due | found | detected | median delay | 95 % |\n|---|---|---|---|---|---|"
        )?;
        for ((cause, undone), runs) in causes {
            let delays: Vec<f64> = runs
                .iter()
                .filter_map(|r| Some(r.found()?.at_deg - r.onset_deg?))
                .collect();
            writeln!(
                f,
                "| {cause}{} | {} | {} | {} | {} | {} |",
                if undone { ", undoing" } else { "" },
                dues(&runs),
                Share::of(&runs, |r| r.found().is_some()),
                Share::of(&runs, |r| r.detected()),
                degrees(quantile(delays.clone(), 0.5)),
                degrees(quantile(delays, 0.95))
            )?;
        }
        writeln!(f)?;
        let crossed = self.runs.iter().filter(|r| r.cause == "cross_thread");
        let parts: Vec<f64> = crossed
            .filter_map(|r| Some(r.found()?.torque_part))
            .collect();
        if parts.is_empty() {
            return Ok(());
        }
        writeln!(
            f,
            "cross_thread: torque at the finding, 95 % below {:.0} % of target\n",
            100.0 * quantile(parts, 0.95)
        )
    }

    /// Rows: what was due. Columns: what was first said against the bolt.
    fn confusion(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let began = || self.runs.iter().filter(|r| r.faulty() || r.fault == "none");
        let columns: BTreeSet<&str> = began().map(Scored::first_adverse).collect();
        let rows: BTreeSet<&str> = began().map(|r| r.fault.as_str()).collect();
        writeln!(
            f,
            "## What was due (rows) and what was first said against the bolt (columns)\n"
        )?;
        let names: Vec<&str> = columns.iter().copied().collect();
        writeln!(f, "| | {} |", names.join(" | "))?;
        writeln!(f, "|---|{}", "---|".repeat(names.len()))?;
        for row in rows {
            write!(f, "| {row} |")?;
            for column in &columns {
                let fits = |r: &&Scored| r.fault == row && r.first_adverse() == *column;
                match began().filter(fits).count() {
                    0 => write!(f, " |")?,
                    n => write!(f, " {n} |")?,
                }
            }
            writeln!(f)?;
        }
        Ok(())
    }
}

/// The findings that are due for these runs: most causes have one.
fn dues(runs: &[&Scored]) -> String {
    let dues: BTreeSet<&str> = runs.iter().map(|r| r.fault.as_str()).collect();
    dues.into_iter().collect::<Vec<_>>().join(" or ")
}

fn told(figure: f64, digits: usize) -> String {
    if figure.is_finite() {
        format!("{figure:.digits$}")
    } else {
        "—".to_owned()
    }
}

pub(super) fn degrees(x: f64) -> String {
    if x.is_nan() {
        String::from("–")
    } else {
        format!("{x:.1}°")
    }
}

impl fmt::Display for Report<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sound = || self.runs.iter().filter(|r| r.sound);
        let faulty = || self.runs.iter().filter(|r| r.faulty() && !r.sound);
        writeln!(
            f,
            "# Campaign\n\n{} simulated runs: {} without fault, {} with one that is harmless, {} with one that is not, {} ended before theirs began.\n",
            self.runs.len(),
            sound().filter(|r| r.fault == "none").count(),
            sound().filter(|r| r.fault != "none").count(),
            faulty().count(),
            self.runs.iter().filter(|r| !r.sound && !r.faulty()).count()
        )?;
        writeln!(
            f,
            "- false stops of sound runs: {}",
            Share::of(sound(), |r| r.false_stop())
        )?;
        writeln!(
            f,
            "- stops before the onset of a fault: {}",
            Share::of(faulty(), |r| r.false_stop())
        )?;
        writeln!(
            f,
            "- faulty runs accepted: {}\n",
            Share::of(faulty(), |r| r.verdict == "accepted")
        )?;
        if self.plain().next().is_some() {
            self.sound_figures(f)?;
        }
        if self.undone().next().is_some() {
            self.undone_figures(f)?;
        }
        self.faults(f)?;
        self.confusion(f)
    }
}
