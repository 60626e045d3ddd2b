//! The controller's pins and links, over the traits of embedded-hal and embedded-io. Knows nothing of
//! the physics.

mod link;
mod permit;

pub use link::FrameReader;
pub use permit::PermitOutput;
