#!/usr/bin/env bash
# Builds the Debian package, and installs, starts, upgrades, removes and purges it in a clean Debian
# root that is made here. Needs root, debootstrap and a Debian mirror; takes some minutes, most of them
# the release build. Without systemd inside the root the service is started by hand as its own user.
#   tests/packaging/debian-root.sh            everything
#   tests/packaging/debian-root.sh --no-build packs the release build that is there
set -euo pipefail
cd "$(dirname "$0")/../.."

work=$PWD/target/packaging-test
template=$work/template
root=$work/root
say() { printf '== %s\n' "$*"; }
die() { printf 'FAILED: %s\n' "$*" >&2; exit 1; }
inside() { chroot "$root" /usr/bin/env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin DEBIAN_FRONTEND=noninteractive LC_ALL=C.UTF-8 "$@"; }
as_service() { inside FADEWATCH_CONFIG=/etc/fadewatch/clinic.toml setpriv --reuid=fadewatch --regid=fadewatch --clear-groups "$@"; }
mode() { inside stat -c '%a %U:%G' "$1"; }
same() { [ "$1" = "$2" ] || die "$3: expected '$2', found '$1'"; }
clean() { umount "$root/proc" 2>/dev/null || true; }
trap clean EXIT

command -v debootstrap >/dev/null || apt-get install -yq --no-install-recommends debootstrap
mkdir -p "$work"

say "two packages: this version, and a later one whose clinic file differs"
packaging/build-deb.sh "${1:-}"
first=$(ls -t target/debian/*.deb | head -1)
cp "$first" "$work/first.deb"
echo "# A later version of the shipped file." >>target/packaging/clinic.toml
PATH="$PWD/target/tools/bin:$PATH" cargo deb --no-build --no-strip --deb-version 99.0.0-1 --output "$work/later.deb"
dpkg-deb --contents "$work/first.deb" | awk '{print $1, $2, $3, $6}'
dpkg-deb --info "$work/first.deb" | sed -n '/Package/,$p'

say "a clean Debian root"
if [ ! -x "$template/usr/bin/dpkg" ]; then
    rm -rf "$template"
    debootstrap --variant=minbase bookworm "$template" >"$work/debootstrap.log"
fi
clean
rm -rf "$root"
cp -a "$template" "$root"
mount -t proc proc "$root/proc"
cp "$work"/*.deb "$root/tmp/"

say "install, with what it depends on"
inside apt-get update -q
inside apt-get install -yq --no-install-recommends libssl3
inside dpkg --install /tmp/first.deb
inside fadewatch --version
same "$(mode /var/lib/fadewatch)" "700 fadewatch:fadewatch" "the data folder"
same "$(mode /var/backups/fadewatch)" "700 fadewatch:fadewatch" "the folder for backups"
same "$(mode /etc/fadewatch)" "750 root:fadewatch" "the clinic's folder"
same "$(mode /etc/fadewatch/clinic.toml)" "640 root:fadewatch" "the clinic file"
same "$(inside getent passwd fadewatch | cut -d: -f7)" "/usr/sbin/nologin" "the service's shell"
for file in /usr/lib/systemd/system/fadewatch.service /usr/lib/sysusers.d/fadewatch.conf \
    /usr/lib/tmpfiles.d/fadewatch.conf /usr/share/man/man1/fadewatch.1.gz \
    /usr/share/bash-completion/completions/fadewatch /usr/share/doc/fadewatch/copyright \
    /etc/fadewatch/plans/graded-sitting.toml; do
    # Minimal roots may be told to leave manuals and documents out.
    [ -e "$root$file" ] || dpkg-deb --contents "$work/first.deb" | grep -q ".$file\$" || die "$file is missing"
done
inside dpkg --verify fadewatch

say "start, as its own user, on folders in place of mail servers"
sed -i -e '/^\[mail.out\]/,/^# -----/{/^\[mail/!d}' "$root/etc/fadewatch/clinic.toml"
sed -i -e 's|^\[mail.out\]|[mail.out]\nmaildir = "/var/lib/fadewatch/out"|' \
    -e 's|^\[mail.in\]|[mail.in]\nmaildir = "/var/lib/fadewatch/in"\n|' \
    -e 's|^name = .*|name = "Hilltop Clinic (invented, changed by the clinic)"|' \
    "$root/etc/fadewatch/clinic.toml"
serve() {
    as_service fadewatch serve 2>"$work/log" &
    service=$!
    for _ in $(seq 200); do
        grep -q "the service runs" "$work/log" && return 0
        sleep 0.1
    done
    cat "$work/log"
    die "the service did not start"
}
stop() {
    kill -TERM "$(pgrep -P "$service" -f 'fadewatch serve' || echo "$service")"
    wait "$service" || die "the service did not end in order"
}
serve
as_service fadewatch health
as_service test -e /var/lib/fadewatch/fadewatch.db
same "$(mode /var/lib/fadewatch/fadewatch.db)" "600 fadewatch:fadewatch" "the database"
for _ in $(seq 100); do
    ls "$root"/var/backups/fadewatch/fadewatch-*.db >/dev/null 2>&1 && break
    sleep 0.1
done
as_service sh -c 'fadewatch restore --check /var/backups/fadewatch/fadewatch-*.db'
stop

say "upgrade: what the clinic changed stays, and the data was copied before"
inside dpkg --force-confold --install /tmp/later.deb
grep -q "changed by the clinic" "$root/etc/fadewatch/clinic.toml" || die "the clinic's changes are lost"
[ -e "$root/etc/fadewatch/clinic.toml.dpkg-dist" ] || die "the later clinic file is not shown beside"
copy=$(ls "$root"/var/backups/fadewatch/before-upgrade-from-*.db)
as_service fadewatch restore --check "${copy#"$root"}"
serve
as_service fadewatch health
stop

say "remove: the program goes, settings and record stay"
inside dpkg --remove fadewatch
[ ! -e "$root/usr/bin/fadewatch" ] || die "the program is still there"
[ -e "$root/etc/fadewatch/clinic.toml" ] || die "the settings are gone"
[ -e "$root/var/lib/fadewatch/fadewatch.db" ] || die "the record is gone"

say "purge: the settings go, the record stays"
inside dpkg --purge fadewatch
[ ! -e "$root/etc/fadewatch" ] || { ls -R "$root/etc/fadewatch"; die "settings are left"; }
[ -e "$root/var/lib/fadewatch/fadewatch.db" ] || die "the record is gone"
left=$(inside dpkg --list fadewatch 2>/dev/null | grep -c '^[ir]' || true)
same "$left" 0 "traces in the package database"

say "without a record nothing at all is left"
rm -rf "$root/var/lib/fadewatch" "$root/var/backups/fadewatch"
inside dpkg --install /tmp/first.deb
inside dpkg --purge fadewatch
for folder in /etc/fadewatch /var/lib/fadewatch /var/backups/fadewatch; do
    [ ! -e "$root$folder" ] || die "$folder is left"
done
say "the package installs, starts, upgrades, goes and is purged as it should"
