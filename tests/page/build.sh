#!/usr/bin/env bash
# Builds docs/tipstrike.html: the program as WebAssembly in a page that needs nothing else.
#
#   tests/page/build.sh [FILE]
#
# Needs node and the standard library of Rust for wasm32-wasip1 (rustup fetches it). The program is the same as on a desktop, but
# for `strike` and `manual`, which need a terminal.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=wasm32-wasip1
if ! rustup target add "$target" 2>/dev/null && [ ! -d "$(rustc --print sysroot)/lib/rustlib/$target/lib" ]; then
    echo "The standard library of Rust for $target is missing: install it (rustup target add $target), or build on a machine that has it." >&2
    exit 1
fi
RUSTFLAGS="-C target-feature=+simd128" cargo build --quiet --profile page --bin tipstrike --target "$target"
node tests/page/build.mjs "${CARGO_TARGET_DIR:-target}/$target/page/tipstrike.wasm" "${1:-docs/tipstrike.html}"
