#!/usr/bin/env bash
# Makes pages of the sample jobs, of a starts table and of one part, and looks at each in a browser; then drives
# docs/tipstrike.html, the tool as a page, and holds it against the program.
# Needs node, and a Chromium (named by CHROMIUM, else /usr/bin/chromium).
set -euo pipefail
cd "$(dirname "$0")"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
npm ci --silent --no-audit --no-fund
# With all features, as the tests before it were built.
tipstrike=(cargo run --quiet --all-features --manifest-path ../../Cargo.toml --)
"${tipstrike[@]}" report ../../samples -o "$work/job.html"
"${tipstrike[@]}" report ../../samples -o "$work/batch.html" --for batch
"${tipstrike[@]}" measure ../../samples --csv "$work/starts.csv" >"$work/starts.txt"
"${tipstrike[@]}" report "$work/starts.csv" -o "$work/table.html"
"${tipstrike[@]}" report ../../samples/lid-1-B1.wav --job ../../samples/job.toml --prep B --for part -o "$work/part.html"
"${tipstrike[@]}" report ../../samples/skiffs -o "$work/ac.html"
for page in job batch table part ac; do
    PAGE="$work/$page.html" npm run --silent check
done
TIPSTRIKE="$(cargo build --quiet --all-features --message-format json --bin tipstrike | sed -n 's/.*"executable":"\([^"]*\)".*/\1/p')" npm run --silent tool
