#!/usr/bin/env bash
# Fuzzes each target until a limit of libFuzzer: tests/fuzz/run.sh -max_total_time=1200 [TARGET...], or -runs=1000, which
# goes the same way each time. Takes nightly Rust and cargo-fuzz.
# A finding is made small by `cargo +nightly fuzz tmin --fuzz-dir tests/fuzz -s none TARGET FILE` and, once the code is mended,
# put into tests/fuzz/found/TARGET, which `cargo test` replays.
set -euo pipefail
cd "$(dirname "$0")/../.."
limit="$1"
shift
# One thread, so that a seed leads the same way each time.
export RAYON_NUM_THREADS=1
[ $# -gt 0 ] || set -- wav table job sheet starts detect live

for target in "$@"; do
    corpus="tests/fuzz/corpus/$target"
    mkdir -p "$corpus"
    case "$target" in
        wav) shared=(tests/recordings/*.wav) ;;
        table) shared=(tests/recordings/*.csv tests/recordings/*.gz) ;;
        live) shared=(tests/recordings/*.wav tests/recordings/*.csv) ;;
        job) shared=(samples/job.toml) ;;
        sheet) shared=(samples/runs.csv) ;;
        *) shared=() ;;
    esac
    for seed in "${shared[@]}" tests/fuzz/seeds/"$target"/* tests/fuzz/found/"$target"/*; do
        [ ! -f "$seed" ] || cp "$seed" "$corpus"
    done
    # The crate has no unsafe code, so the address sanitizer would only cost time.
    cargo +nightly fuzz run --fuzz-dir tests/fuzz -s none "$target" "$corpus" -- \
        "$limit" -seed=1 -timeout=20 -rss_limit_mb=2048 -max_len=16384 -verbosity=0 -print_final_stats=1
done
