#!/usr/bin/env bash
# Installs what the tests need and the machine lacks: Debian packages, Python packages in a virtual
# environment of this checkout (target/python) and npm packages beside it (target/node). Safe to run
# again.
set -euo pipefail
cd "$(dirname "$0")/.."

missing=()
have() { dpkg-query -W -f='${Status}' "$1" 2>/dev/null | grep -q "install ok installed"; }
for package in gcc python3 python3-venv nodejs npm; do
    # A python3 or node of another origin serves as well as Debian's.
    case $package in
        gcc) command -v cc >/dev/null || missing+=("$package") ;;
        python3) command -v python3 >/dev/null || missing+=("$package") ;;
        nodejs) command -v node >/dev/null || missing+=("$package") ;;
        npm) command -v npm >/dev/null || missing+=("$package") ;;
        python3-venv) python3 -c 'import ensurepip' 2>/dev/null || missing+=("$package") ;;
    esac
done
for package in postfix dovecot-imapd dovecot-lmtpd dovecot-sieve openssl chromium poppler-utils systemd \
    postgresql postgresql-client faketime libssl-dev; do
    have "$package" || missing+=("$package")
done
if ((${#missing[@]})); then
    export DEBIAN_FRONTEND=noninteractive
    apt-get update -q
    echo "postfix postfix/main_mailer_type select No configuration" | debconf-set-selections
    apt-get install -yq --no-install-recommends "${missing[@]}"
fi

if [ ! -x target/python/bin/python3 ]; then
    python3 -m venv target/python
fi
target/python/bin/python3 -m pip install --quiet --disable-pip-version-check -r tests/python-packages.txt

if ! cmp -s tests/package-lock.json target/node/package-lock.json; then
    mkdir -p target/node
    cp tests/package.json tests/package-lock.json target/node/
    # Nothing of it runs at installation; a half installation is made anew.
    npm ci --prefix target/node --ignore-scripts --no-audit --no-fund --loglevel=error ||
        { rm -f target/node/package-lock.json; exit 1; }
fi
