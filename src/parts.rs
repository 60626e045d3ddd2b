//! What of the crate may be left out of a build to save flash, and what is said when a job asks for it.
//!
//! Every part is a Cargo feature and all are on by default. A part that is left out is never left out
//! of a run: a job that needs it is refused by name before the run begins.

/// A part that a job may need and a build may lack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Part {
    /// Torque, angle and place from the arm's joints: feature `arm`.
    Arm,
    /// Watching and judging a bolt that is undone: feature `undoing`.
    Undoing,
}

impl Part {
    /// Whether this build has it.
    pub const fn is_built_in(self) -> bool {
        match self {
            Self::Arm => cfg!(feature = "arm"),
            Self::Undoing => cfg!(feature = "undoing"),
        }
    }

    /// The Cargo feature that brings it.
    pub const fn feature(self) -> &'static str {
        match self {
            Self::Arm => "arm",
            Self::Undoing => "undoing",
        }
    }

    /// Refuses what needs this part where the build lacks it.
    pub(crate) const fn needed(self, needed: bool) -> Result<(), Self> {
        if needed && !self.is_built_in() {
            return Err(self);
        }
        Ok(())
    }
}

impl core::fmt::Display for Part {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let (asked, instead) = match self {
            Self::Arm => (
                "an arm is described",
                "or describe a powered spindle alone, without [arm]",
            ),
            Self::Undoing => ("the bolt is to be undone", "or do it up only"),
        };
        write!(
            f,
            "{asked}, but this software was built without that part: build bolting-monitor with the feature \"{}\", {instead}",
            self.feature()
        )
    }
}

/// Place of what only the arm needs: of no size where the part is left out.
#[cfg(feature = "arm")]
pub(crate) type IfArm<T> = Option<T>;
/// Place of what only the arm needs: of no size where the part is left out.
#[cfg(not(feature = "arm"))]
pub(crate) type IfArm<T> = LeftOut<T>;

/// Place of what only undoing needs: of no size where the part is left out.
#[cfg(feature = "undoing")]
pub(crate) type IfUndoing<T> = Option<T>;
/// Place of what only undoing needs: of no size where the part is left out.
#[cfg(not(feature = "undoing"))]
pub(crate) type IfUndoing<T> = LeftOut<T>;

/// An `Option` that the compiler knows to be empty: what would be done with its content is compiled
/// in every build, and linked in none.
#[cfg(not(all(feature = "arm", feature = "undoing")))]
#[derive(Clone, Copy, Debug)]
pub(crate) struct LeftOut<T>(core::marker::PhantomData<T>);

#[cfg(not(all(feature = "arm", feature = "undoing")))]
impl<T> LeftOut<T> {
    pub const fn as_ref(&self) -> Option<&T> {
        None
    }

    pub const fn as_mut(&mut self) -> Option<&mut T> {
        None
    }
}

#[cfg(not(all(feature = "arm", feature = "undoing")))]
impl<T> From<Option<T>> for LeftOut<T> {
    fn from(_: Option<T>) -> Self {
        Self(core::marker::PhantomData)
    }
}

#[cfg(test)]
mod tests {
    extern crate std;
    use std::string::ToString;

    use super::Part;

    #[test]
    fn a_part_is_refused_where_it_is_needed_and_lacking_and_only_there() {
        for part in [Part::Arm, Part::Undoing] {
            assert_eq!(part.needed(false), Ok(()));
            let asked = part.needed(true);
            assert_eq!(asked.is_ok(), part.is_built_in(), "{part:?}");
            let told = part.to_string();
            assert!(told.contains(&std::format!("feature \"{}\"", part.feature())));
        }
    }
}
