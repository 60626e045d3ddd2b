//! Host command line.
fn main() {}
