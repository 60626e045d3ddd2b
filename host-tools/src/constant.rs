//! Checked descriptions as Rust constants, for firmware that carries its arm and bolt built in.

use std::fmt::Write as _;

use serde::Serialize;

/// A line of Rust `pub const <name>: &[u8] = &[…];` whose bytes are the postcard form of `value`;
/// `about` becomes its documentation. The firmware reads it back with `postcard::from_bytes`.
///
/// # Errors
/// Those of postcard, which has none for the descriptions of this crate.
pub fn rust_constant(name: &str, about: &str, value: &impl Serialize) -> postcard::Result<String> {
    let bytes = postcard::to_allocvec(value)?;
    let mut text = String::new();
    for line in about.lines() {
        let _ = writeln!(text, "/// {line}");
    }
    let _ = writeln!(text, "#[rustfmt::skip]\npub const {name}: &[u8] = &[");
    for row in bytes.chunks(16) {
        let row: Vec<_> = row.iter().map(|byte| format!("0x{byte:02x}")).collect();
        let _ = writeln!(text, "    {},", row.join(", "));
    }
    text.push_str("];\n");
    Ok(text)
}

#[cfg(test)]
mod tests {
    use bolting_monitor::arm::ArmDescription;

    use super::*;

    #[test]
    fn the_bytes_in_the_text_are_the_description() {
        let urdf = include_str!("../../tests/reference/arm7.urdf");
        let arm = crate::urdf::read(urdf, None, "tool_flange").unwrap().arm;
        let text = rust_constant("ARM", "Seven joints.\nInvented.", &arm).unwrap();
        let (head, body) = text.split_once("= &[").unwrap();
        assert!(
            head.starts_with("/// Seven joints.\n/// Invented.\n"),
            "{head}"
        );
        assert!(head.ends_with("pub const ARM: &[u8] "), "{head}");
        let bytes: Vec<u8> = body
            .split(',')
            .filter_map(|byte| byte.trim().strip_prefix("0x"))
            .map(|byte| u8::from_str_radix(byte, 16).unwrap())
            .collect();
        assert_eq!(postcard::from_bytes::<ArmDescription>(&bytes).unwrap(), arm);
    }
}
