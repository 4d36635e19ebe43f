#!/usr/bin/env bash
# Everything that must hold before a change is taken: format, lints, tests, simulated seeds.
# Installs what the tests need by itself (see tests/setup.sh). Nothing is skipped.
set -euo pipefail
cd "$(dirname "$0")/.."

tests/setup.sh

export INSTA_UPDATE=no
cargo fmt --all -- --check
cargo clippy --all-targets -- -D warnings
cargo test --no-fail-fast
# All kinds of trouble.
cargo run --release -- simulate --seeds 0..2000 --days 30 --jobs 2
