#!/usr/bin/env bash
# Everything that must hold before a change is taken: format, lints, tests, simulated seeds.
# Installs what the tests need by itself (see tests/setup.sh). Nothing is skipped.
set -euo pipefail
cd "$(dirname "$0")/.."

tests/setup.sh

export INSTA_UPDATE=no
cargo fmt --all -- --check
cargo clippy --all-targets -- -D warnings
cargo clippy --features encryption --test encryption --test store --test faults -- -D warnings
cargo test --no-fail-fast
# The encrypted file: its own tests, and those of the store and of breaking disks once more on it.
cargo test --features encryption --no-fail-fast --test encryption --test store --test faults
# All kinds of trouble.
cargo run --release -- simulate --seeds 0..2000 --days 30 --jobs 2
# The rules alone, without store and mail text: fifty times as fast, so many more runs.
cargo run --release -- simulate --depth rules --seeds 0..20000 --days 30 --jobs 2
