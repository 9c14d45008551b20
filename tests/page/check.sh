#!/usr/bin/env bash
# Makes the sample job's page, and the page of a starts table, and looks at both in a browser.
# Needs node, and a Chromium (named by CHROMIUM, else /usr/bin/chromium).
set -euo pipefail
cd "$(dirname "$0")"
work="$(mktemp -d)"
trap 'rm -rf "$work"' EXIT
npm ci --silent --no-audit --no-fund
tipstrike=(cargo run --quiet --manifest-path ../../Cargo.toml --)
"${tipstrike[@]}" report ../../samples -o "$work/job.html"
"${tipstrike[@]}" report ../../samples -o "$work/batch.html" --for batch
"${tipstrike[@]}" measure ../../samples --csv "$work/starts.csv" >"$work/starts.txt"
"${tipstrike[@]}" report "$work/starts.csv" -o "$work/table.html"
for page in job batch table; do
    PAGE="$work/$page.html" npm run --silent check
done
