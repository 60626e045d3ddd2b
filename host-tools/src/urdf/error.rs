//! Why a URDF gives no arm.

use bolting_monitor::arm::MAX_JOINTS;

/// Why a URDF gives no arm.
#[derive(Debug, thiserror::Error)]
pub enum UrdfError {
    /// The text still holds xacro macros.
    #[error(
        "the file holds xacro macros, which are not expanded here: run `xacro {{in}} > {{out}}` first"
    )]
    Xacro,
    /// The text is no URDF.
    #[error("not a URDF: {0}")]
    Syntax(#[from] urdf_rs::UrdfError),
    /// A link that does not exist was asked for or is named by a joint.
    #[error("{asked_by} names link \"{link}\", which does not exist: the links are {}", list(.known))]
    NoSuchLink {
        /// The key or joint that named it.
        asked_by: String,
        /// The missing link.
        link: String,
        /// All links of the file.
        known: Vec<String>,
    },
    /// More or fewer than one link that is nobody's child.
    #[error("the root link is not clear (candidates: {}): give base_link", list(.candidates))]
    Root {
        /// The links that are nobody's child.
        candidates: Vec<String>,
    },
    /// A link is the child of two joints.
    #[error(
        "link \"{link}\" is the child of both joint \"{first}\" and joint \"{second}\": a URDF is a tree, remove one"
    )]
    TwoParents {
        /// The link.
        link: String,
        /// One joint.
        first: String,
        /// The other joint.
        second: String,
    },
    /// Joints lead in a circle.
    #[error(
        "link \"{link}\" hangs from itself: a URDF is a tree, mend the parents of the joints on its way to the root"
    )]
    Loop {
        /// A link of the circle.
        link: String,
    },
    /// The tip cannot be reached from the base.
    #[error("tip link \"{tip}\" is not beyond base link \"{base}\"; on its way to the base are {}", list(.way))]
    NotBeyond {
        /// The base link.
        base: String,
        /// The tip link.
        tip: String,
        /// Links met from the tip towards the root.
        way: Vec<String>,
    },
    /// A joint of the chain that does not turn about an axis of its own.
    #[error(
        "joint \"{joint}\" on the way to the tip is {kind}; only revolute, continuous and fixed joints are possible: choose another tip_link or base_link"
    )]
    JointKind {
        /// The joint.
        joint: String,
        /// Its type, as a phrase.
        kind: String,
    },
    /// More joints than an arm may have.
    #[error(
        "the chain has {joints} moving joints, at most {MAX_JOINTS} are possible: choose base_link nearer the tip"
    )]
    TooManyJoints {
        /// Moving joints of the chain.
        joints: usize,
    },
    /// A link with a mass below zero or not finite.
    #[error("link \"{link}\" has a mass of {mass_kg} kg: give 0 or more")]
    Mass {
        /// The link.
        link: String,
        /// Its mass.
        mass_kg: f64,
    },
}

fn list(names: &[String]) -> String {
    names.join(", ")
}
