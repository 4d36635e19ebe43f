#!/usr/bin/env bash
# Checks the dependencies before a release: what they may be (bans, licences, sources) by deny.toml, and
# known weaknesses where the advisory database can be reached. Installs cargo-deny into target/tools where
# it is missing, which takes some minutes; so it is no part of tests/all.sh.
#   packaging/check-dependencies.sh                what needs no network but the registry
#   packaging/check-dependencies.sh --advisories   known weaknesses too
set -euo pipefail
cd "$(dirname "$0")/.."

tools=target/tools
export PATH="$PWD/$tools/bin:$PATH"
command -v cargo-deny >/dev/null || cargo install cargo-deny --version 0.20.2 --locked --root "$tools"
checks=(bans licenses sources)
[ "${1:-}" != --advisories ] || checks+=(advisories)
cargo deny --locked --config packaging/deny.toml check "${checks[@]}"
