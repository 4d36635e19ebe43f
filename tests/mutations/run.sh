#!/usr/bin/env bash
# Shows that the simulation can fail: plants each deliberate fault in a copy of the source and runs
# seeds until one of them notices. Not part of the test command; run it when the simulation, the
# rules or the store change. Prints a table; ends with 1 when a fault goes unnoticed.
#
# Usage: tests/mutations/run.sh [NAME...]      (all faults, or those named)
# The environment may set SEEDS (0..300), DAYS (20), JOBS (1), PROFILE (dev), DEPTH (whole) and LIMIT,
# the seconds that each fault may take (600): a fault that makes the simulation run without end is not
# noticed. At DEPTH=rules only faults in the rules can be noticed.
#
# Each NAME.patch beside this script plants one fault, switched on by FADEWATCH_MUTANT=NAME, so one
# build serves for all. No switch is in the source itself.
set -euo pipefail
root=$(cd "$(dirname "$0")/../.." && pwd)
patches=$root/tests/mutations
seeds=${SEEDS:-0..300} days=${DAYS:-20} jobs=${JOBS:-1} profile=${PROFILE:-dev} limit=${LIMIT:-600}
depth=${DEPTH:-whole}

copy=$(mktemp -d)
trap 'rm -rf "$copy"' EXIT
cp -r "$root/src" "$root/config" "$root/Cargo.toml" "$root/Cargo.lock" "$copy/"
# Source files that are included from beside the tests or the packaging must be there too.
for folder in tests packaging; do
    if [ -d "$root/$folder" ]; then cp -r "$root/$folder" "$copy/"; fi
done
for patch in "$patches"/*.patch; do
    patch --quiet --no-backup-if-mismatch -d "$copy" -p1 <"$patch" ||
        { echo "$(basename "$patch") does not apply any more: bring it up to date" >&2; exit 2; }
done
target=${CARGO_TARGET_DIR:-$root/target}/mutations
cargo build --quiet --profile "$profile" --manifest-path "$copy/Cargo.toml" --target-dir "$target" \
    --bin fadewatch
binary=$target/$([ "$profile" = dev ] && echo debug || echo "$profile")/fadewatch

if ! "$binary" simulate --depth "$depth" --seeds "$seeds" --days "$days" \
    --jobs "$jobs" >/dev/null; then
    echo "the simulation fails without any planted fault; nothing can be shown" >&2
    exit 2
fi

names=("$@")
if [ ${#names[@]} -eq 0 ]; then
    for patch in "$patches"/*.patch; do
        name=$(basename "$patch" .patch)
        if [ "$name" != 00-switch ]; then names+=("$name"); fi
    done
fi
unnoticed=0
printf '| planted fault | noticed by | how it shows | seed |\n| --- | --- | --- | --- |\n'
for name in "${names[@]}"; do
    found=$(FADEWATCH_MUTANT=$name timeout "$limit" "$binary" simulate --depth "$depth" --seeds "$seeds" \
        --days "$days" --jobs "$jobs" --failures 1 --no-story | grep -m 1 '^seed ' || true)
    if [ -n "$found" ]; then
        # `seed N: PROMISE: HOW`, where a numbered promise has a colon of its own.
        printf '%s' "$found" | sed -E \
            -e 's/\|/ /g' \
            -e "s/^seed ([0-9]+): (promise [0-9]+: [^:]*|[^:]*): (.*)/| $name | \2 | \3 | \1 |/"
        printf '\n'
    else
        printf '| %s | NOT NOTICED | | |\n' "$name"
        unnoticed=1
    fi
done
exit "$unnoticed"
