//! Judges figures against what has a meaning. A mistake is noted and the judging goes on, so that all
//! are told at once.

use std::ops::Range;

use bolting_monitor::math::{Vec3, unit};
use bolting_monitor::procedure::Expected;
use toml::Spanned;

use super::schema::{Column, Figure, JointFigure, PerJoint};
use super::{Mistake, form};

/// Which figures have a meaning.
#[derive(Clone, Copy)]
pub enum Allowed {
    /// Every finite one.
    Any,
    /// Zero up to a largest one.
    FromZero(f64),
    /// More than zero up to a largest one.
    AboveZero(f64),
}

/// Zero and more.
pub const ZERO_AND_MORE: Allowed = Allowed::FromZero(f64::INFINITY);
/// More than zero.
pub const MORE_THAN_ZERO: Allowed = Allowed::AboveZero(f64::INFINITY);

impl Allowed {
    pub fn problem(self, x: f64) -> Option<String> {
        if !(x as f32).is_finite() {
            return Some(format!("is {x}: give a finite number"));
        }
        let (fits, rule, most) = match self {
            Self::Any => return None,
            Self::FromZero(most) => (x >= 0.0 && x <= most, "0 or more", most),
            Self::AboveZero(most) => (x > 0.0 && x <= most, "more than 0", most),
        };
        if fits {
            None
        } else if most.is_finite() {
            Some(format!("is {x}: give {rule} and at most {most}"))
        } else {
            Some(format!("is {x}: give {rule}"))
        }
    }
}

/// Angle that no bolt takes: a thousand turns, a metre of thread of a pitch of 1 mm.
const MOST_RAD: f64 = 1000.0 * std::f64::consts::TAU;

/// Judges figure by figure and keeps what is wrong.
pub struct Judge<'a> {
    pub text: &'a str,
    pub mistakes: Vec<Mistake>,
}

impl Judge<'_> {
    /// Line on which a span begins, from 1.
    pub fn line(&self, span: &Range<usize>) -> usize {
        form::line(self.text, span)
    }

    pub fn mistake(&mut self, key: &str, span: Range<usize>, problem: impl Into<String>) {
        self.mistakes.push(Mistake {
            line: self.line(&span),
            key: key.to_owned(),
            problem: problem.into(),
        });
    }

    /// `None` if the figure was left out or is a mistake, which is then noted.
    pub fn figure(&mut self, key: &str, figure: &Figure, allowed: Allowed) -> Option<f32> {
        let figure = figure.as_ref()?;
        match allowed.problem(*figure.get_ref()) {
            None => Some(*figure.get_ref() as f32),
            Some(problem) => {
                self.mistake(key, figure.span(), problem);
                None
            }
        }
    }

    /// As [`Judge::figure`], with what to look at where the figure is out of range.
    pub fn figure_or(
        &mut self,
        key: &str,
        figure: &Figure,
        allowed: Allowed,
        look_at: &str,
    ) -> Option<f32> {
        let before = self.mistakes.len();
        let judged = self.figure(key, figure, allowed);
        for mistake in self.mistakes.iter_mut().skip(before) {
            mistake.problem += look_at;
        }
        judged
    }

    pub fn column(&mut self, key: &str, column: &Spanned<[f64; 3]>) -> Option<Vec3> {
        let figures = column.get_ref();
        match figures.iter().find_map(|x| Allowed::Any.problem(*x)) {
            None => Some(figures.map(|x| x as f32)),
            Some(problem) => {
                self.mistake(key, column.span(), problem);
                None
            }
        }
    }

    pub fn column_or(&mut self, key: &str, column: &Column, default: Vec3) -> Vec3 {
        column
            .as_ref()
            .and_then(|column| self.column(key, column))
            .unwrap_or(default)
    }

    pub fn direction(&mut self, key: &str, column: &Spanned<[f64; 3]>) -> Option<Vec3> {
        let direction = self.column(key, column)?;
        let direction = unit(&direction);
        if direction.is_none() {
            self.mistake(
                key,
                column.span(),
                "is zero: give a direction, of any length",
            );
        }
        direction
    }

    /// One figure per joint, or `None` if left out.
    pub fn per_joint(
        &mut self,
        key: &str,
        figure: &JointFigure,
        joints: usize,
    ) -> Option<Vec<f32>> {
        let figure = figure.as_ref()?;
        let all = match figure.get_ref() {
            PerJoint::All(one) => vec![*one; joints],
            PerJoint::Each(each) => each.clone(),
        };
        let problem = if all.len() == joints {
            all.iter().find_map(|x| ZERO_AND_MORE.problem(*x))
        } else {
            Some(format!(
                "has {} numbers: give one for all joints or {joints}, one per joint",
                all.len()
            ))
        };
        if let Some(problem) = problem {
            self.mistake(key, figure.span(), problem);
            return None;
        }
        Some(all.into_iter().map(|x| x as f32).collect())
    }

    /// An expected figure and its window; the default window comes from the figure.
    pub fn expected(
        &mut self,
        [key, tolerance_key]: [&str; 2],
        [value, tolerance]: [&Figure; 2],
        unit_rad: f64,
        default_tolerance: impl Fn(f64) -> f64,
    ) -> Option<Expected> {
        let judged = self.figure_or(
            key,
            value,
            Allowed::AboveZero((MOST_RAD / unit_rad).round()),
            ", more turns than a thread of a metre has",
        );
        let Some(value) = value.as_ref() else {
            if let Some(tolerance) = tolerance {
                let problem = format!("has no meaning without {key}: give both or none");
                self.mistake(tolerance_key, tolerance.span(), problem);
            }
            return None;
        };
        judged?;
        let value = *value.get_ref();
        // A wider window would hold zero, which tells nothing.
        self.figure(tolerance_key, tolerance, Allowed::AboveZero(value));
        let tolerance = tolerance
            .as_ref()
            .map_or_else(|| default_tolerance(value), |t| *t.get_ref());
        Some(Expected {
            value: (value * unit_rad) as f32,
            tolerance: (tolerance * unit_rad) as f32,
        })
    }
}
