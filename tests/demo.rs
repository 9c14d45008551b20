//! `samples/` is what `tipstrike demo` writes, byte for byte.

use std::path::Path;

use tipstrike::demo::shop;

#[test]
fn the_samples_are_what_the_demo_writes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for file in shop::samples() {
        let path = folder.join(&file.path);
        let kept = std::fs::read(&path)
            .unwrap_or_else(|e| panic!("{}: {e}; `tipstrike demo` makes it", file.path));
        assert!(
            kept == file.bytes,
            "{} differs from what `tipstrike demo` writes",
            file.path
        );
    }
}

#[test]
fn the_samples_stay_small() {
    let bytes: usize = shop::samples().iter().map(|f| f.bytes.len()).sum();
    assert!(bytes < 3_000_000, "{bytes}");
}
