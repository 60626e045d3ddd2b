//! The controller's pins and links, over the traits of embedded-hal and embedded-io, and its
//! log. Knows nothing of the physics.

mod link;
mod log;
mod permit;

pub use link::FrameReader;
pub use log::LogLine;
pub use permit::PermitOutput;
