#!/usr/bin/env bash
# Runs a PostgreSQL of Debian's package in a folder of its own, on a socket there and nowhere else,
# until standard input ends; then the server and the folder go. Says `READY <folder>` once it runs.
set -euo pipefail
folder=$(mktemp -d /tmp/fadewatch-server.XXXXXX)
trap 'rm -rf "$folder"' EXIT
bin=$(find /usr/lib/postgresql -maxdepth 2 -name bin | sort -V | tail -1)
as=()
# PostgreSQL refuses to run as root.
if [ "$(id -u)" = 0 ]; then
    chown postgres "$folder"
    as=(setpriv --reuid postgres --regid postgres --clear-groups)
fi
cd "$folder"
"${as[@]}" "$bin/initdb" -D "$folder/data" -U fadewatch -A trust -E UTF8 --no-locale --no-sync >"$folder/initdb.log"
# As a clinic would run it: what is told as kept is on the disk.
"${as[@]}" "$bin/postgres" -D "$folder/data" -k "$folder" -c listen_addresses= -c fsync=on \
    -c max_connections=300 -c log_min_messages=fatal 2>/dev/null </dev/null &
server=$!
until "$bin/pg_isready" -q -h "$folder"; do
    kill -0 "$server"
    sleep 0.05
done
echo "READY $folder"
cat >/dev/null
kill -QUIT "$server"
wait "$server" || true
