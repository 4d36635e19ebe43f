#!/usr/bin/env bash
# Follows packaging/Containerfile line by line where no container engine runs: its last stage in a clean
# Debian root that is made here, the program as its own user on a read-only root. Of its first stage the
# RUN lines are run in this checkout instead, with this machine's toolchain. Needs root, debootstrap and a
# Debian mirror. What it cannot show: that the named images exist, and the network of a container.
#   tests/packaging/container-root.sh            everything
#   tests/packaging/container-root.sh --no-build takes the release build that is there
set -euo pipefail
cd "$(dirname "$0")/../.."
# What is mounted here is gone when the script ends, however it ends.
[ -n "${OWN_MOUNTS:-}" ] ||
    OWN_MOUNTS=1 exec unshare --mount --propagation private tests/packaging/container-root.sh "$@"

file=packaging/Containerfile
work=$PWD/target/packaging-test
template=$work/template
root=$work/container
say() { printf '== %s\n' "$*"; }
die() { printf 'FAILED: %s\n' "$*" >&2; exit 1; }
clean() {
    for mounted in proc etc/fadewatch var/lib/fadewatch ""; do umount "$root/$mounted" 2>/dev/null || true; done
}
trap clean EXIT

command -v debootstrap >/dev/null || apt-get install -yq --no-install-recommends debootstrap
mkdir -p "$work"
if [ ! -x "$template/usr/bin/dpkg" ]; then
    rm -rf "$template"
    debootstrap --variant=minbase bookworm "$template" >"$work/debootstrap.log"
fi
clean
rm -rf "$root"
cp -a "$template" "$root"

user="" entry=() words=() health=()
stage=0
# One instruction a line: continued lines are joined, comments are left out.
while read -r instruction rest; do
    [ -n "$instruction" ] || continue
    say "stage $stage: $instruction $rest"
    case $instruction in
        FROM) stage=$((stage + 1)) ;;
        WORKDIR) ;;
        COPY)
            if [ "$stage" = 2 ]; then
                read -r from source target <<<"$rest"
                [ "$from" = --from=build ] || die "COPY $rest is not understood"
                install -m 0755 "${source#/build/}" "$root$target"
            fi ;;
        RUN)
            if [ "$stage" = 2 ]; then chroot "$root" /bin/sh -c "$rest"
            elif [ "${1:-}" != --no-build ]; then sh -c "$rest"; fi ;;
        ENV) export "${rest?}" ;;
        USER) user=$rest ;;
        VOLUME) [ "$(chroot "$root" stat -c '%a %u:%g' "$rest")" = "700 $user" ] || die "$rest is not the user's" ;;
        STOPSIGNAL) [ "$rest" = SIGTERM ] || die "the service ends in order on SIGTERM" ;;
        HEALTHCHECK) mapfile -t health < <(grep -o '"[^"]*"' <<<"$rest" | tr -d '"') ;;
        ENTRYPOINT) mapfile -t entry < <(grep -o '"[^"]*"' <<<"$rest" | tr -d '"') ;;
        CMD) mapfile -t words < <(grep -o '"[^"]*"' <<<"$rest" | tr -d '"') ;;
        *) die "$instruction is not understood" ;;
    esac
done < <(sed -e '/^#/d' -e ':a' -e '/\\$/N; s/\\\n//; ta' "$file")

say "run it, read-only, as user $user"
[[ $user =~ ^[1-9][0-9]*:[1-9][0-9]*$ ]] || die "the user is root, or not a number"
mkdir -p "$root/etc/fadewatch" "$work/clinic/plans" "$work/volume"
cp config/plans/graded-sitting.toml "$work/clinic/plans/"
sed -e 's|^data_folder = "data"|data_folder = "/var/lib/fadewatch"|' \
    -e '/^\[mail.out\]/,/^# -----/{/^\[mail/!d}' config/clinic.toml |
    sed -e 's|^\[mail.out\]|[mail.out]\nmaildir = "/var/lib/fadewatch/out"|' \
        -e 's|^\[mail.in\]|[mail.in]\nmaildir = "/var/lib/fadewatch/in"\n|' >"$work/clinic/clinic.toml"
rm -rf "$work/volume"; install -d -m 0700 -o "${user%:*}" -g "${user#*:}" "$work/volume"
mount --bind "$root" "$root"
mount --bind "$work/clinic" "$root/etc/fadewatch"
mount --bind "$work/volume" "$root/var/lib/fadewatch"
mount -o remount,bind,ro "$root"
mount -o remount,bind,ro "$root/etc/fadewatch"
as_user() {
    chroot --userspec="$user" "$root" /usr/bin/env -i FADEWATCH_CONFIG="$FADEWATCH_CONFIG" "$@"
}
as_user "${entry[@]}" --version
! as_user touch /usr/bin/written 2>/dev/null || die "the root can be written to"
chroot --userspec="$user" "$root" /usr/bin/env -i FADEWATCH_CONFIG="$FADEWATCH_CONFIG" \
    "${entry[@]}" "${words[@]}" 2>"$work/container.log" &
service=$!
for _ in $(seq 300); do
    grep -q "the service runs" "$work/container.log" && break
    sleep 0.1
done
grep -q "the service runs" "$work/container.log" || { cat "$work/container.log"; die "it did not start"; }
as_user "${health[@]}"
kill -TERM "$service"
wait "$service" || die "the service did not end in order"
say "every line of $file was followed, and the service ran as $user on a read-only root"
