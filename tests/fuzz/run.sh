#!/bin/sh
# Fuzzes the reader of replies, by default for ten minutes each: text, then whole messages.
#
#   tests/fuzz/run.sh [SECONDS] [text|message]
#
# Needs a C++ compiler. Reports executions, coverage (counters reached) and the slowest input; a
# panic, or an input over its budget of time, fails and is kept in target/fuzz. Coverage is counted
# by flags of the stable compiler; no sanitizer is used, since the reader has no unsafe code.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
out="$root/target/fuzz"
seconds=${1:-600}
targets=${2:-"text message"}
host=$(rustc -vV | sed -n 's/^host: //p')
mkdir -p "$out"
export CARGO_TARGET_DIR="$out/build"
flags="-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4"
flags="$flags -Cllvm-args=-sanitizer-coverage-inline-8bit-counters"
flags="$flags -Cllvm-args=-sanitizer-coverage-pc-table"
flags="$flags -Cllvm-args=-sanitizer-coverage-trace-compares -Ccodegen-units=1 --cfg fuzzing"
RUSTFLAGS="$flags" cargo build --quiet --locked --release --target "$host" \
    --manifest-path "$here/Cargo.toml"

# The labelled replies and mails are where the fuzzer starts from.
mkdir -p "$out/text" "$out/message" "$out/found"
python3 - "$root/tests/reply" "$out/text" <<'PY'
import json, pathlib, sys
source, target = map(pathlib.Path, sys.argv[1:])
kinds, languages = ["start", "look", "recheck", "alert"], ["en", "es", "fr", "de"]
for file in sorted(source.glob("*.jsonl")):
    for line in file.read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        first = kinds.index(row["answering"]) + 4 * languages.index(row.get("lang", "en"))
        name = f"{file.stem}-{row['id']}"
        (target / name).write_bytes(bytes([first]) + row["text"].encode())
PY
cp "$root"/tests/reply/mail/*.eml "$out/message/"

# The budget is of processor time (src/budget.rs). The timeout is of the clock, for what never ends: it
# must not strike on a busy machine.
cd "$out/found"
for name in $targets; do
    echo "== $name, $seconds seconds =="
    "$out/build/$host/release/$name" "$out/$name" -max_total_time="$seconds" -max_len=65536 \
        -timeout=120 -print_final_stats=1 -verbosity=1 -rss_limit_mb=2048 2>&1 |
        grep -E "INITED|DONE|^stat|panicked|SUMMARY|ERROR|Test unit written" || true
    if ls "$out/found" | grep -q .; then
        echo "found: $(ls "$out/found")" >&2
        exit 1
    fi
done
