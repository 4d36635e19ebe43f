#!/usr/bin/env bash
# Fetches the sample mails that two general reply-parsing packages ship, as an outside check of how
# whole messages are read. They stay in target/outside and are no part of this repository.
#
#   talon 1.4.4 (PyPI), Apache License 2.0: replies from twelve mail programs, as text and HTML
#   planer 1.2.0 (npm), MIT License: HTML of office mail programs
#
# Safe to run again.
set -euo pipefail
cd "$(dirname "$0")/../.."
into=target/outside
mkdir -p "$into"

fetched() { (cd "$into" && echo "$1" | sha256sum --check --quiet >/dev/null 2>&1); }

talon="263d122609747691e9f75726ea565f5da8a40146a7a81eb5883e51b8224b0e5c  talon-1.4.4.tar.gz"
planer="ea73e7520f01a8a26b24b44bf1c53d4e56823a7c7721afaeea702296fee1bea0  planer-1.2.0.tgz"

if ! fetched "$talon"; then
    # The archive itself is wanted, not the package: nothing of it is built or run.
    python3 -m pip download --quiet --disable-pip-version-check --no-deps --no-binary :all: \
        --dest "$into" talon==1.4.4
    fetched "$talon" || { echo "talon-1.4.4.tar.gz is not the file that was checked" >&2; exit 1; }
fi
if ! fetched "$planer"; then
    (cd "$into" && npm pack --silent planer@1.2.0 >/dev/null)
    fetched "$planer" || { echo "planer-1.2.0.tgz is not the file that was checked" >&2; exit 1; }
fi
rm -rf "$into/talon" "$into/planer"
mkdir "$into/talon" "$into/planer"
tar -xzf "$into/talon-1.4.4.tar.gz" -C "$into/talon" --strip-components=1
tar -xzf "$into/planer-1.2.0.tgz" -C "$into/planer" --strip-components=1
