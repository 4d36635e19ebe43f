#!/bin/sh
# Measures speed and scale, prints one table and keeps it in tests/bench/RESULTS.md.
# Usage: tests/bench/run.sh [PART …]; see tests/bench/table/main.rs for parts and settings, and
# tests/bench/post/main.rs for the part `post`, which needs root for its mail servers.
# With no part, or with `due`, general-purpose job schedulers are measured beside; they are fetched
# into target/schedulers for that, one of them (apalis) to be compiled there, which takes minutes. FADEWATCH_BENCH_JOBS is how many jobs each gets (10000).
# The kind of machine is all that is written of it.
set -eu
cd "$(dirname "$0")/../.."
results=tests/bench/RESULTS.md
new=$(mktemp)
trap 'rm -f "$new"' EXIT
cores=$(nproc)
gib=$(awk '/^MemTotal/ { printf "%.0f", $2 / 1048576 }' /proc/meminfo)
cargo bench --bench table --bench post --no-run
load=$(cut -d ' ' -f 1 /proc/loadavg)
{
    echo "# Speed and scale, as measured"
    echo
    echo "Written by \`tests/bench/run.sh\`. Machine: $cores cores, $gib GiB, Linux; load average when it"
    echo "began: $load (at most $cores on a machine that is otherwise idle). Each figure is a median of one"
    echo "run, beside what it is compared with in the same run; where the aim is a value, the value stands"
    echo "in place of a ratio."
    echo
} > "$new"
cargo bench --quiet --bench table -- "$@" | tee -a "$new"
looks=$(sed -n 's|^\| [0-9]* looks falling due.*(\([0-9]*\)\/s).*|\1|p' "$new")
if [ -n "$looks" ]; then
    if [ ! -x target/schedulers/bin/python ]; then
        python3 -m venv target/schedulers
        target/schedulers/bin/python -m pip install --quiet --disable-pip-version-check \
            apscheduler==3.11.3 huey==3.5.4 sqlalchemy==2.1.9
    fi
    # After the other lines of the table, so that Markdown takes them for the same one.
    target/schedulers/bin/python tests/bench/schedulers.py "$looks" "${FADEWATCH_BENCH_JOBS:-10000}" \
        | tee -a "$new"
    CARGO_TARGET_DIR=target/schedulers/apalis cargo run --quiet --release --locked \
        --manifest-path tests/bench/apalis/Cargo.toml -- "$looks" "${FADEWATCH_BENCH_JOBS:-10000}" \
        | tee -a "$new"
fi
if [ $# -eq 0 ] || echo " $* " | grep -q " post "; then
    cargo bench --quiet --bench post | tee -a "$new"
fi
mv "$new" "$results"
chmod 644 "$results"
