#!/usr/bin/env bash
# Runs a PostgreSQL of Debian's package in a folder of its own until standard input ends; then the
# server and the folder go. Says `READY <folder> <port>` once it runs. Its socket, in the folder, lets
# everybody in; its port, on this machine alone, takes TLS and the password `hush` of user `guarded`.
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
openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -subj /CN=localhost \
    -addext subjectAltName=DNS:localhost -addext basicConstraints=critical,CA:FALSE \
    -keyout "$folder/key.pem" -out "$folder/ca.pem" 2>/dev/null
chmod 600 "$folder/key.pem"
[ "$(id -u)" != 0 ] || chown postgres "$folder/key.pem"
printf 'local all all trust\nhostssl all guarded 127.0.0.1/32 scram-sha-256\n' >"$folder/hba.conf"
port=$((20000 + RANDOM % 12000))
while (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null; do
    port=$((20000 + RANDOM % 12000))
done
# As a clinic would run it: what is told as kept is on the disk.
"${as[@]}" "$bin/postgres" -D "$folder/data" -k "$folder" -p "$port" -c listen_addresses=127.0.0.1 -c fsync=on \
    -c ssl=on -c ssl_cert_file="$folder/ca.pem" -c ssl_key_file="$folder/key.pem" \
    -c hba_file="$folder/hba.conf" \
    -c max_connections=300 -c log_min_messages=fatal 2>/dev/null </dev/null &
server=$!
until "$bin/pg_isready" -q -h "$folder" -p "$port"; do
    kill -0 "$server"
    sleep 0.05
done
psql -q -h "$folder" -p "$port" -U fadewatch -d postgres -c "CREATE ROLE guarded SUPERUSER LOGIN PASSWORD 'hush'"
echo "READY $folder $port"
cat >/dev/null
kill -QUIT "$server"
wait "$server" || true
