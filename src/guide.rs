#![doc = include_str!("../examples/INTEGRATION.md")]
