//! Holds the checked-in header to the one that cbindgen makes of this package.
//!
//! `BOLTING_WRITE_HEADER=1 cargo test --test header` writes it anew.

use std::path::Path;

#[test]
fn the_header_is_what_cbindgen_makes() {
    let package = Path::new(env!("CARGO_MANIFEST_DIR"));
    let config = cbindgen::Config::from_file(package.join("cbindgen.toml")).expect("a config");
    let sources = ["status", "numbers", "structs", "door"];
    let builder = sources.iter().fold(
        cbindgen::Builder::new().with_config(config),
        |builder, name| builder.with_src(package.join(format!("src/{name}.rs"))),
    );
    let mut made = Vec::new();
    builder.generate().expect("bindings").write(&mut made);
    let made = String::from_utf8(made).expect("text");
    let header = package.join("../include/bolting_monitor.h");
    if std::env::var_os("BOLTING_WRITE_HEADER").is_some() {
        std::fs::write(&header, &made).expect("write the header");
    }
    let checked_in = std::fs::read_to_string(&header).expect("the header");
    assert!(
        made == checked_in,
        "the header is not that of the package: BOLTING_WRITE_HEADER=1 cargo test --test header"
    );
}
