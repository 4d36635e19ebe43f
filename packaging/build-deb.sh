#!/usr/bin/env bash
# Builds the Debian package into target/debian. Installs cargo-deb into target/tools where it is
# missing; the program in it can encrypt its data, which takes libssl-dev to build. --no-build packs the
# release build that is there.
set -euo pipefail
cd "$(dirname "$0")/.."

tools=target/tools
export PATH="$PWD/$tools/bin:$PATH"
command -v cargo-deb >/dev/null || cargo install cargo-deb --version 3.8.0 --locked --root "$tools"
[ "${1:-}" = --no-build ] || cargo build --release --locked --features encryption

# Man pages and completions come from the program itself; the clinic file gets the system's places.
made=target/packaging
rm -rf "$made"
mkdir -p "$made/man" "$made/completions"
target/release/fadewatch man-pages "$made/man"
for shell in bash zsh fish; do
    target/release/fadewatch completions "$shell" >"$made/completions/fadewatch.$shell"
done
sed -e 's|^data_folder = "data"  |data_folder = "/var/lib/fadewatch"  |' \
    -e 's|^# \[backup\] |[backup] |' \
    -e 's|^# folder = "/backups/fadewatch"|folder = "/var/backups/fadewatch"|' \
    config/clinic.toml >"$made/clinic.toml"
grep -q '^data_folder = "/var/lib/fadewatch"' "$made/clinic.toml"
grep -q '^folder = "/var/backups/fadewatch"' "$made/clinic.toml"
gzip -9n "$made"/man/*.1
# The licence of the cipher asks that its text goes with the program.
cipher=$(cargo metadata --format-version 1 --locked --features encryption |
    grep -o '"manifest_path":"[^"]*/sqlcipher-src-[^"]*"' | cut -d'"' -f4)
cp "$(dirname "$cipher")/sqlcipher/LICENSE-sqlcipher" "$made/"

cargo deb --no-build --no-strip "${@:2}"
