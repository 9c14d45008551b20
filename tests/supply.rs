//! What the program is built from: where it comes from, under which licences, how much of it there is twice, and how old
//! a Rust will do.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// Licences (SPDX identifiers) that ask for no more than their text to be passed on; MPL-2.0 besides asks for the source
/// of its own files, which crates.io gives.
const ALLOWED: [&str; 10] = [
    "0BSD",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "MIT",
    "MPL-2.0",
    "Unicode-3.0",
    "Zlib",
];

/// Where every crate comes from.
const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// What the lock file holds, as Cargo tells it for this kind of machine.
fn packages() -> Vec<Value> {
    let output = Command::new(env!("CARGO"))
        .args([
            "metadata",
            "--format-version",
            "1",
            "--locked",
            "--offline",
            "--all-features",
        ])
        .args(["--filter-platform", "x86_64-unknown-linux-gnu"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
    let all: Value = serde_json::from_slice(&output.stdout).unwrap();
    all["packages"].as_array().unwrap().clone()
}

fn read(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

#[test]
fn every_crate_comes_from_the_registry_under_a_licence_that_suits() {
    for package in packages() {
        let name = &package["name"];
        if package["source"].is_null() {
            assert!(name.as_str().unwrap().starts_with("tipstrike"), "{name}");
            continue;
        }
        assert_eq!(package["source"], REGISTRY, "{name}");
        let licence = package["license"].as_str().unwrap_or_default();
        let parsed = spdx::Expression::parse_mode(licence, spdx::ParseMode::LAX);
        let suits = parsed.is_ok_and(|expression| {
            expression.evaluate(|asked| {
                let known = asked.license.id().map(|id| id.name);
                known.is_some_and(|name| ALLOWED.contains(&name))
            })
        });
        assert!(suits, "{name} is under \"{licence}\"");
    }
    let lock = read("Cargo.lock");
    let (sums, crates) = (
        lock.matches("\nchecksum = ").count(),
        lock.matches("\nsource = ").count(),
    );
    assert_eq!(sums, crates, "each crate has its checksum");
}

#[test]
fn no_more_crates_are_in_twice_than_others_ask_for() {
    /// The png of resvg asks for an older bitflags. The lock file keeps serde and clap at the last releases that share maud's syn, and
    /// flate2 at the last that shares png's miniz_oxide: a second one of each is a thirtieth of the build.
    const KNOWN: [&str; 1] = ["bitflags"];
    let output = Command::new(env!("CARGO"))
        .args(["tree", "--edges", "normal", "--duplicates", "--depth", "0"])
        .args(["--locked", "--offline"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout);
    let mut twice: Vec<&str> = said.lines().filter_map(|l| l.split(' ').next()).collect();
    twice.retain(|name| !name.is_empty());
    twice.dedup();
    assert_eq!(twice, KNOWN);
}

#[test]
fn the_oldest_rust_is_told_and_no_crate_asks_for_a_younger_one() {
    // Of 1.88.0 and 1.88 neither is younger.
    let number = |version: &str| -> Vec<u32> {
        let parts = version.split('.').map(|part| part.parse().unwrap());
        let mut parts: Vec<u32> = parts.collect();
        parts.resize(3, 0);
        parts
    };
    let oldest = env!("CARGO_PKG_RUST_VERSION");
    assert!(read("README.md").contains(&format!("Rust {oldest} or newer")));
    for package in packages() {
        if let Some(asked) = package["rust_version"].as_str() {
            assert!(number(asked) <= number(oldest), "{}", package["name"]);
        }
    }
}
