//! Thread designations as drawings write them: `M10x1.25-6H/6g`, `3/8-16 UNC-2A/2B`, `M8x1-LH`.

use core::fmt;
use core::str::FromStr;

use super::thread::{Thread, ThreadSystem};
use super::unified::{UnifiedSeries, UnifiedSize};
use super::{metric, unified};

/// Which of the two parts a designation states the tolerance class of. The class itself is always the
/// medium one (6g and 6H, 2A and 2B): no other has limits of size here, so no other is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fit {
    /// Neither: the medium classes are meant (ISO 965-1; common practice for ASME B1.1).
    #[default]
    Unstated,
    /// The bolt, 6g or 2A.
    External,
    /// The nut or tapped hole, 6H or 2B.
    Internal,
    /// Both, 6H/6g or 2A/2B.
    Both,
}

/// All that a designation says.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Designation {
    /// The thread, one that the tables list.
    pub thread: Thread,
    /// Whether it ends in `-LH`.
    pub left_hand: bool,
    /// Stated tolerance classes.
    pub fit: Fit,
}

impl FromStr for Designation {
    type Err = ThreadError;

    /// Reads a metric (`M…`) or a unified designation, followed by `-` and tolerance classes, by `-LH`
    /// or by both. A metric pitch left out is the coarse one; unified threads per inch cannot be left
    /// out, their series can.
    ///
    /// # Errors
    /// What is no designation, or names a thread or a class that the tables do not hold.
    fn from_str(designation: &str) -> Result<Self, ThreadError> {
        let text = designation.trim();
        match text.strip_prefix(['M', 'm']) {
            Some(rest) => metric_designation(rest),
            None => unified_designation(text),
        }
    }
}

impl FromStr for Thread {
    type Err = ThreadError;

    /// Reads a [`Designation`] of a right-hand thread and keeps the thread.
    ///
    /// # Errors
    /// As for [`Designation`]; a left-hand thread, which a `Thread` cannot tell from a right-hand one.
    fn from_str(designation: &str) -> Result<Self, ThreadError> {
        let designation: Designation = designation.parse()?;
        if designation.left_hand {
            return Err(ThreadError::LeftHand);
        }
        Ok(designation.thread)
    }
}

fn metric_designation(rest: &str) -> Result<Designation, ThreadError> {
    let (size, marks) = rest.split_once('-').unwrap_or((rest, ""));
    let (diameter, pitch) = match size.split_once(['x', 'X', '×']) {
        Some((diameter, pitch)) => (diameter, Some(pitch)),
        None => (size, None),
    };
    let diameter_mm = number(diameter)?;
    let system = ThreadSystem::Metric;
    let size = metric::size_of(diameter_mm).ok_or(ThreadError::UnknownSize { system })?;
    let pitch_mm = match pitch {
        Some(pitch) => Some(number(pitch)?),
        None => size.coarse_pitch_mm(),
    };
    let pitch_mm = pitch_mm
        .filter(|pitch| size.pitches_mm.contains(pitch))
        .ok_or(ThreadError::Pitch {
            system,
            diameter_mm,
        })?;
    let (fit, left_hand) = marks_of(marks, system)?;
    Ok(Designation {
        thread: Thread::metric(diameter_mm, pitch_mm),
        left_hand,
        fit,
    })
}

fn unified_designation(text: &str) -> Result<Designation, ThreadError> {
    let system = ThreadSystem::Unified;
    let Some((size, rest)) = leading_size(text) else {
        let inch = |c: char| c == '#' || c == '.' || c.is_ascii_digit();
        return Err(if text.starts_with(inch) {
            ThreadError::UnknownSize { system }
        } else {
            ThreadError::Form
        });
    };
    let (per_inch, rest) = split_before(rest.trim_start(), |c| !c.is_ascii_digit());
    let (per_inch, series) = *size
        .pitches
        .iter()
        .find(|(listed, _)| per_inch.parse() == Ok(*listed))
        .ok_or(ThreadError::Pitch {
            system,
            diameter_mm: size.thread(1.0).diameter_mm,
        })?;
    let (said, marks) = split_before(rest.trim_start(), |c| c == '-' || c == ' ');
    if !said.is_empty() && !said.eq_ignore_ascii_case(series.symbol()) {
        return Err(ThreadError::Series { listed: series });
    }
    let (fit, left_hand) = marks_of(marks.trim_start_matches(['-', ' ']), system)?;
    Ok(Designation {
        thread: size.thread(per_inch),
        left_hand,
        fit,
    })
}

/// The size at the start and what follows its hyphen. Of two that fit the longer one is meant: in
/// `1-1/4-7` the hyphen stands inside the size, in `1-8` after it.
fn leading_size(text: &str) -> Option<(&'static UnifiedSize, &str)> {
    text.match_indices('-')
        .take(2)
        .filter_map(|(at, _)| text.split_at_checked(at))
        .chain([(text, "")])
        .filter_map(|(size, rest)| Some((unified::size_named(size)?, rest.trim_start_matches('-'))))
        .last()
}

/// Splits before the first character that ends the part; all of it is the part where none does.
fn split_before(text: &str, ends: impl Fn(char) -> bool) -> (&str, &str) {
    text.find(ends)
        .and_then(|at| text.split_at_checked(at))
        .unwrap_or((text, ""))
}

fn number(text: &str) -> Result<f32, ThreadError> {
    text.trim().parse().map_err(|_| ThreadError::Form)
}

/// The tolerance classes of a system: external, internal and both as written.
fn classes(system: ThreadSystem) -> [(&'static str, Fit); 4] {
    match system {
        ThreadSystem::Metric => [
            ("6g", Fit::External),
            ("6H", Fit::Internal),
            ("6H/6g", Fit::Both),
            ("6g/6H", Fit::Both),
        ],
        ThreadSystem::Unified => [
            ("2A", Fit::External),
            ("2B", Fit::Internal),
            ("2A/2B", Fit::Both),
            ("2B/2A", Fit::Both),
        ],
    }
}

/// What follows the pitch: classes, hand, classes and hand, or nothing.
fn marks_of(marks: &str, system: ThreadSystem) -> Result<(Fit, bool), ThreadError> {
    let (class, hand) = match marks.trim().rsplit_once('-') {
        Some((class, hand)) => (class.trim(), hand.trim()),
        None if marks.trim().eq_ignore_ascii_case("LH") => ("", "LH"),
        None => (marks.trim(), ""),
    };
    let left_hand = hand.eq_ignore_ascii_case("LH");
    // The case of a metric class tells the hole from the bolt.
    let fit = match classes(system).iter().find(|(name, _)| *name == class) {
        Some((_, fit)) => *fit,
        None if class.is_empty() => Fit::Unstated,
        None => return Err(ThreadError::Class { system }),
    };
    if left_hand || hand.is_empty() {
        Ok((fit, left_hand))
    } else {
        Err(ThreadError::Class { system })
    }
}

impl fmt::Display for Thread {
    /// Writes the designation that reads back as this thread; an unlisted one by its bare figures.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (d, p) = (self.diameter_mm, self.pitch_mm);
        match self.system {
            ThreadSystem::Metric => {
                let coarse = metric::size_of(d).and_then(metric::MetricSize::coarse_pitch_mm);
                if coarse == Some(p) {
                    write!(f, "M{d}")
                } else {
                    write!(f, "M{d}x{p}")
                }
            }
            ThreadSystem::Unified => match unified::listed(self) {
                Some((name, per_inch, series)) => {
                    write!(f, "{name}-{per_inch} {}", series.symbol())
                }
                None => write!(f, "unified thread of {d} mm with {p} mm pitch"),
            },
        }
    }
}

impl fmt::Display for Designation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.thread)?;
        let classes = classes(self.thread.system);
        if let Some((class, _)) = classes.iter().find(|(_, fit)| *fit == self.fit) {
            write!(f, "-{class}")?;
        }
        if self.left_hand {
            write!(f, "-LH")?;
        }
        Ok(())
    }
}

/// Why a designation is no thread.
#[derive(Clone, Copy, Debug, PartialEq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ThreadError {
    /// Neither of the metric nor of the unified form.
    Form,
    /// A nominal size that the tables do not hold.
    UnknownSize {
        /// Whose sizes to list.
        system: ThreadSystem,
    },
    /// A pitch that the size does not have, or a unified size without one.
    Pitch {
        /// Whose pitches to list.
        system: ThreadSystem,
        /// Nominal diameter of the size, mm.
        diameter_mm: f32,
    },
    /// A series that the pitch does not belong to.
    Series {
        /// The one that it belongs to.
        listed: UnifiedSeries,
    },
    /// Something other than a known tolerance class or `LH` after the pitch.
    Class {
        /// Whose classes to list.
        system: ThreadSystem,
    },
    /// A left-hand thread where only the thread itself is read.
    LeftHand,
}

impl fmt::Display for ThreadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Form => write!(
                f,
                "not a thread designation: write an ISO metric thread as \"M10\" or, with a fine \
                 pitch in mm, \"M10x1.25\", a unified one as \"3/8-16 UNC\""
            ),
            Self::UnknownSize { system } => {
                write!(f, "not a known size: use one of")?;
                match system {
                    ThreadSystem::Metric => metric::SIZES
                        .iter()
                        .try_for_each(|size| write!(f, " M{}", size.diameter_mm)),
                    ThreadSystem::Unified => {
                        unified::SIZES
                            .iter()
                            .enumerate()
                            .try_for_each(|(at, size)| {
                                write!(f, "{} {}", if at > 0 { "," } else { "" }, size.name)
                            })
                    }
                }
            }
            Self::Pitch {
                system,
                diameter_mm,
            } => pitches(f, system, diameter_mm),
            Self::Series { listed } => write!(
                f,
                "not of that series: this pitch is {}, write that or leave the series out",
                listed.symbol()
            ),
            Self::Class { system } => write!(
                f,
                "followed by what is not known here: limits of size are held for the classes {} \
                 only; write one of these, \"LH\" for a left-hand thread, or nothing",
                match system {
                    ThreadSystem::Metric => "\"6H\", \"6g\" and \"6H/6g\"",
                    ThreadSystem::Unified => "\"2A\", \"2B\" and \"2A/2B\"",
                }
            ),
            Self::LeftHand => write!(
                f,
                "left-hand, and only the thread is read here: leave out \"-LH\" and state the hand by \
                 itself"
            ),
        }
    }
}

/// A coarse pitch is named as such: it is the one that a metric designation may leave out.
fn pitches(f: &mut fmt::Formatter<'_>, system: ThreadSystem, diameter_mm: f32) -> fmt::Result {
    write!(f, "not a pitch of this size: ")?;
    match system {
        ThreadSystem::Metric => {
            write!(f, "M{diameter_mm} has, in mm,")?;
            metric::size_of(diameter_mm)
                .into_iter()
                .flat_map(|size| size.pitches_mm)
                .enumerate()
                .try_for_each(|(at, pitch)| {
                    write!(f, " {pitch}{}", if at == 0 { " (coarse)" } else { "" })
                })
        }
        ThreadSystem::Unified => {
            let Some(size) = unified::size_of(diameter_mm) else {
                return Ok(());
            };
            write!(f, "{} has, in threads per inch,", size.name)?;
            size.pitches
                .iter()
                .try_for_each(|(per_inch, series)| write!(f, " {per_inch} ({})", series.symbol()))
        }
    }
}

impl core::error::Error for ThreadError {}
