//! One file per phenomenon. Knows nothing of input and output.

mod finding;
pub use finding::{Finding, FindingKind, Quantity};
