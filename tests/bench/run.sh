#!/bin/sh
# Measures speed and scale, prints one table and keeps it in tests/bench/RESULTS.md.
# Usage: tests/bench/run.sh [PART …]; see tests/bench/table/main.rs for parts and settings.
# The kind of machine is all that is written of it.
set -eu
cd "$(dirname "$0")/../.."
results=tests/bench/RESULTS.md
new=$(mktemp)
trap 'rm -f "$new"' EXIT
cores=$(nproc)
gib=$(awk '/^MemTotal/ { printf "%.0f", $2 / 1048576 }' /proc/meminfo)
load=$(cut -d ' ' -f 1 /proc/loadavg)
{
    echo "# Speed and scale, as measured"
    echo
    echo "Written by \`tests/bench/run.sh\`. Machine: $cores cores, $gib GiB, Linux; load average when"
    echo "it began: $load. Each figure is a median of one run, beside what it is compared with in the"
    echo "same run. 'Value' stands where the aim is a value and no ratio."
    echo
} > "$new"
cargo bench --quiet --bench table -- "$@" | tee -a "$new"
mv "$new" "$results"
chmod 644 "$results"
