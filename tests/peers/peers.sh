#!/bin/bash
# Real mail servers for the tests: Postfix and Dovecot on loopback, in one folder, as root.
#
#   peers.sh run [DIR]         starts both, prints how to reach them, then READY; when standard input
#                              ends (so also when the caller dies), stops both and removes the folder
#   peers.sh up [DIR]          starts both, prints how to reach them
#   peers.sh down DIR          stops both and removes the folder
#   peers.sh stop DIR WHICH    stops one of them; WHICH is smtp or imap
#   peers.sh start DIR WHICH   starts it again, on the same ports
#   peers.sh lapse DIR         both show a certificate that has lapsed, from now on
#   peers.sh renew DIR         both show one that is valid again
#   peers.sh token DIR USER SECONDS   prints an OAuth 2 token valid that long (below zero: expired)
#
# Nothing can leave the machine, and nothing outside DIR is touched, but for Debian's packages, which
# are installed where missing. Any number of copies run side by side. DIR is a fresh folder under
# /tmp unless given; it must be short (socket paths) and every user must be able to walk down to it.
#
# Any recipient is taken on the submission ports, so failures come back as real bounces:
#   USER+token@clinic.test   delivered to USER, the whole address kept in Delivered-To
#   nobody@                  bounce 5.1.1          full@     bounce 5.2.2
#   x@outside.test           bounce 5.1.2          later@    taken, then deferred for good
#   busy@                    451 at RCPT           refused@  550 at RCPT
#   away@                    a real absence notice
# The password of USER@clinic.test is USER-pw.
set -euo pipefail

DOMAIN=clinic.test
USERS="robot alice bob carla dan erin full later busy refused away"
for n in $(seq 1 24); do USERS="$USERS box$n"; done
MAIL_ID=5000 # a plain number: the mailboxes need no account of their own
DIR_CHARS_MAX=60 # a socket's path ends at 107 bytes, and ours are up to 40 below the folder

die() { echo "peers.sh: $*" >&2; exit 1; }

install_packages() {
    local missing=""
    for package in postfix dovecot-imapd dovecot-lmtpd dovecot-sieve openssl; do
        dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q "install ok installed" \
            || missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    echo "peers.sh: installing$missing" >&2
    export DEBIAN_FRONTEND=noninteractive
    # Without this, a machine with an init system would start its own servers on installing.
    local policy=/usr/sbin/policy-rc.d ours=""
    if [ ! -e $policy ]; then
        printf '#!/bin/sh\nexit 101\n' > $policy; chmod 755 $policy; ours=yes
    fi
    echo "postfix postfix/main_mailer_type select No configuration" | debconf-set-selections
    { apt-get -q update \
        && apt-get -q -o DPkg::Lock::Timeout=300 install -y --no-install-recommends $missing
    } >&2 || { [ -z "$ours" ] || rm -f $policy; die "cannot install$missing"; }
    [ -z "$ours" ] || rm -f $policy
}

answers() { (exec 3<>"/dev/tcp/127.0.0.1/$1") 2>/dev/null; }

# Five free ports in a row, below those that the system hands out by itself.
choose_ports() {
    local base port free
    for _ in $(seq 1 100); do
        base=$((20000 + (RANDOM % 1200) * 10)); free=yes
        for port in $(seq "$base" $((base + 4))); do
            if answers "$port"; then free=""; fi
        done
        if [ -n "$free" ]; then echo "$base"; return; fi
    done
    die "no free ports between 20000 and 32000"
}

write_certificates() {
    local tls=$D/tls
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 30 \
        -subj "/CN=Test authority" -addext "basicConstraints=critical,CA:TRUE" \
        -keyout "$tls/ca-key.pem" -out "$tls/ca.pem" 2>/dev/null
    openssl req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -subj "/CN=localhost" \
        -keyout "$tls/key.pem" -out "$tls/request.pem" 2>/dev/null
    printf '%s\n' "subjectAltName=DNS:localhost,IP:127.0.0.1" "basicConstraints=CA:FALSE" \
        "extendedKeyUsage=serverAuth" > "$tls/extensions"
    : > "$tls/index"
    printf '%s\n' "[ca]" "default_ca = test" "[test]" "database = $tls/index" "rand_serial = yes" \
        "unique_subject = no" "new_certs_dir = $tls" "default_md = sha256" "policy = any" \
        "[any]" "commonName = supplied" > "$tls/ca.cnf"
    sign_certificate
    # An authority that signed nothing here.
    openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 30 \
        -subj "/CN=Another authority" -addext "basicConstraints=critical,CA:TRUE" \
        -keyout "$tls/other-key.pem" -out "$tls/other-ca.pem" 2>/dev/null
}

# Signs the servers' certificate; `-startdate` and `-enddate` may say from when until when.
sign_certificate() {
    local tls=$D/tls
    openssl ca -batch -notext -config "$tls/ca.cnf" -cert "$tls/ca.pem" -keyfile "$tls/ca-key.pem" \
        -days 30 -in "$tls/request.pem" -extfile "$tls/extensions" -out "$tls/leaf.pem" "$@" \
        2>/dev/null
    cat "$tls/leaf.pem" "$tls/ca.pem" > "$tls/cert.pem"
}

# Both servers read their certificate when they start.
show_certificate() {
    stop_smtp; stop_imap
    sign_certificate "$@"
    start_imap; start_smtp
}

write_dovecot() {
    local user
    for user in $USERS; do
        echo "$user@$DOMAIN:{PLAIN}$user-pw:$MAIL_ID:$MAIL_ID::$D/mail/$DOMAIN/$user::"
        mkdir -p "$D/mail/$DOMAIN/$user"
    done > "$D/dovecot/users"
    cat > "$D/mail/$DOMAIN/away/.dovecot.sieve" <<END
require ["vacation"];
vacation :days 1 :subject "Out of office" :addresses ["away@$DOMAIN"] "I am away until Monday.";
END
    mkdir -p "$D/dovecot/jwt/default/HS256"
    printf '%s' "$TOKEN_SECRET" | base64 -w0 > "$D/dovecot/jwt/default/HS256/default"
    printf '%s\n' "introspection_mode = local" \
        "local_validation_key_dict = fs:posix:prefix=$D/dovecot/jwt/" \
        "username_attribute = sub" > "$D/dovecot/oauth2.conf.ext"
    cat > "$D/dovecot/dovecot.conf" <<END
base_dir = $D/dovecot/run
state_dir = $D/dovecot/state
log_path = $D/log/dovecot.log
listen = 127.0.0.1
protocols = imap lmtp
hostname = mail.$DOMAIN
postmaster_address = postmaster@$DOMAIN
submission_host = 127.0.0.1:$SMTP_PORT
ssl = yes
ssl_cert = <$D/tls/cert.pem
ssl_key = <$D/tls/key.pem
disable_plaintext_auth = no
auth_mechanisms = plain login xoauth2 oauthbearer
auth_username_format = %Lu
auth_failure_delay = 0
first_valid_uid = 1
mail_location = maildir:~/Maildir
recipient_delimiter = +
mail_max_userip_connections = 100
passdb {
  driver = passwd-file
  mechanisms = plain login
  args = $D/dovecot/users
}
passdb {
  driver = oauth2
  mechanisms = xoauth2 oauthbearer
  args = $D/dovecot/oauth2.conf.ext
}
userdb {
  driver = passwd-file
  args = $D/dovecot/users
}
service anvil {
  unix_listener anvil-auth-penalty {
    mode = 0
  }
}
service imap-login {
  inet_listener imap {
    port = $IMAP_PORT
  }
  inet_listener imaps {
    port = $IMAPS_PORT
    ssl = yes
  }
}
service auth {
  unix_listener $D/postfix/queue/private/auth {
    mode = 0660
    user = postfix
  }
}
service lmtp {
  unix_listener $D/postfix/queue/private/dovecot-lmtp {
    mode = 0660
    user = postfix
  }
}
protocol lmtp {
  mail_plugins = sieve
}
plugin {
  sieve = file:~/sieve;active=~/.dovecot.sieve
}
namespace inbox {
  inbox = yes
}
END
}

write_postfix() {
    local conf=$D/postfix/conf user
    for user in $USERS; do echo "$user@$DOMAIN $DOMAIN/$user/Maildir/"; done > "$conf/mailboxes"
    cat > "$conf/transport" <<END
full@$DOMAIN error:5.2.2 Mailbox full
later@$DOMAIN retry:4.2.1 Try again later
away@$DOMAIN lmtp:unix:private/dovecot-lmtp
END
    cat > "$conf/main.cf" <<END
compatibility_level = 3.7
queue_directory = $D/postfix/queue
data_directory = $D/postfix/data
command_directory = /usr/sbin
daemon_directory = /usr/lib/postfix/sbin
meta_directory = /etc/postfix
shlib_directory = /usr/lib/postfix
mail_owner = postfix
setgid_group = postdrop
maillog_file = $D/log/postfix.log
maillog_file_prefixes = $D
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
myhostname = mail.$DOMAIN
mydestination =
alias_maps =
alias_database =
local_recipient_maps =
mynetworks =
biff = no
default_transport = error:5.1.2 no outside mail in tests
relay_transport = error:5.1.2 no outside mail in tests
smtp_dns_support_level = disabled
virtual_mailbox_domains = $DOMAIN
virtual_mailbox_maps = texthash:$conf/mailboxes
virtual_mailbox_base = $D/mail
virtual_mailbox_limit = 0
virtual_uid_maps = static:$MAIL_ID
virtual_gid_maps = static:$MAIL_ID
virtual_transport = virtual
virtual_alias_maps = inline:{ { postmaster@$DOMAIN = robot@$DOMAIN } }
transport_maps = texthash:$conf/transport
recipient_delimiter = +
message_size_limit = 52428800
smtpd_tls_security_level = may
smtpd_tls_chain_files = $D/tls/key.pem, $D/tls/cert.pem
smtpd_tls_auth_only = yes
smtpd_sasl_type = dovecot
smtpd_sasl_path = private/auth
smtpd_relay_restrictions = permit_sasl_authenticated, reject_unauth_destination
smtpd_recipient_restrictions = check_recipient_access inline:{ { busy@$DOMAIN = 451 4.3.0 Try again later }, { refused@$DOMAIN = 550 5.7.1 Refused by policy } }
smtpd_client_connection_count_limit = 0
smtpd_error_sleep_time = 0
notify_classes =
bounce_queue_lifetime = 1h
maximal_queue_lifetime = 1h
minimal_backoff_time = 5s
maximal_backoff_time = 10s
queue_run_delay = 5s
END
    local all="-o smtpd_sasl_auth_enable=yes -o smtpd_reject_unlisted_recipient=no"
    all="$all -o smtpd_relay_restrictions=permit_sasl_authenticated,reject"
    cat > "$conf/master.cf" <<END
127.0.0.1:$SMTP_PORT inet n - n - - smtpd
127.0.0.1:$SUBMISSION_PORT inet n - n - - smtpd -o smtpd_tls_security_level=encrypt $all
127.0.0.1:$SMTPS_PORT inet n - n - - smtpd -o smtpd_tls_wrappermode=yes $all
pickup unix n - n 60 1 pickup
cleanup unix n - n - 0 cleanup
qmgr unix n - n 300 1 qmgr
tlsmgr unix - - n 1000? 1 tlsmgr
rewrite unix - - n - - trivial-rewrite
bounce unix - - n - 0 bounce
defer unix - - n - 0 bounce
trace unix - - n - 0 bounce
verify unix - - n - 1 verify
flush unix n - n 1000? 0 flush
proxymap unix - - n - - proxymap
proxywrite unix - - n - 1 proxymap
smtp unix - - n - - smtp
showq unix n - n - - showq
error unix - - n - - error
retry unix - - n - - error
discard unix - - n - - discard
virtual unix - n n - - virtual
lmtp unix - - n - - lmtp
anvil unix - - n - 1 anvil
postlog unix-dgram n - n - 1 postlogd
END
    # Postfix lets a freshly written file cool down for two seconds before it trusts it.
    touch -d "1 minute ago" "$conf"/*
}

# Waits until the words given as a command succeed.
await() {
    for _ in $(seq 1 300); do
        if "$@"; then return 0; fi
        sleep 0.05
    done
    tail -n 20 "$D"/log/*.log >&2 || true
    die "waited 15 s in vain for: $*"
}

start_imap() {
    setsid dovecot -F -c "$D/dovecot/dovecot.conf" < /dev/null > /dev/null 2>> "$D/log/dovecot.err" &
    echo $! > "$D/dovecot.pid"
    await answers "$IMAP_PORT"; await answers "$IMAPS_PORT"
    await test -S "$D/postfix/queue/private/auth"
}

start_smtp() {
    setsid postfix -c "$D/postfix/conf" start-fg < /dev/null > /dev/null 2>> "$D/log/postfix.err" &
    await test -s "$D/postfix/queue/pid/master.pid"
    await answers "$SMTP_PORT"; await answers "$SUBMISSION_PORT"; await answers "$SMTPS_PORT"
}

# Ends one process by its number and waits for it. One that has ended but was not yet waited for
# by its parent counts as gone.
end() {
    local pid=$1
    if ! runs "$pid"; then return 0; fi
    kill -TERM "$pid"
    for _ in $(seq 1 200); do
        if ! runs "$pid"; then return 0; fi
        sleep 0.05
    done
    kill -KILL "$pid" 2>/dev/null || true
}

runs() { [ -n "$1" ] && grep -qs '^State:[[:space:]]*[^ZX]' "/proc/$1/status"; }

stop_imap() {
    [ -s "$D/dovecot.pid" ] || return 0
    local pid; pid=$(cat "$D/dovecot.pid")
    end "$pid"
    # Processes that serve a waiting client outlive their master by seconds, and go on serving. They
    # are of its group, since it was started as the leader of one.
    kill -KILL -- "-$pid" 2>/dev/null || true
    rm -f "$D/dovecot.pid"
}

stop_smtp() {
    local file=$D/postfix/queue/pid/master.pid
    # The number is padded with spaces; postfix never removes the file, and a later stop must not
    # aim at a number that belongs to another process by then.
    if [ -s "$file" ]; then end "$(tr -d ' \n' < "$file")"; : > "$file"; fi
}

up() {
    D=${1:-}
    [ "$(id -u)" = 0 ] || die "must run as root, since the servers change their users"
    if [ -z "$D" ]; then D=$(TMPDIR=/tmp mktemp -d /tmp/peers.XXXXXXXX); fi
    [ "${#D}" -le $DIR_CHARS_MAX ] || die "$D is longer than $DIR_CHARS_MAX characters"
    [ ! -e "$D/env" ] || die "$D holds servers already"
    exec 9> /tmp/peers.lock; flock 9
    install_packages
    mkdir -p "$D"/{tls,mail,log} "$D"/postfix/{conf,queue,data} "$D"/dovecot/{run,state}
    chmod 755 "$D"; chown postfix "$D/postfix/data"
    TOKEN_SECRET=$(openssl rand -hex 16)
    local base; base=$(choose_ports)
    SMTP_PORT=$base SUBMISSION_PORT=$((base + 1)) SMTPS_PORT=$((base + 2))
    IMAP_PORT=$((base + 3)) IMAPS_PORT=$((base + 4))
    write_certificates; write_postfix; write_dovecot
    chown -R $MAIL_ID:$MAIL_ID "$D/mail"
    setpriv --reuid="$(id -u postfix)" --clear-groups test -r "$D/tls/ca.pem" \
        || die "the mail servers' users cannot walk down to $D; choose a folder under /tmp"
    printf '%s\n' "DIR=$D" "HOST=localhost" "DOMAIN=$DOMAIN" "CA_FILE=$D/tls/ca.pem" \
        "OTHER_CA_FILE=$D/tls/other-ca.pem" "SMTP_PORT=$SMTP_PORT" \
        "SUBMISSION_PORT=$SUBMISSION_PORT" "SMTPS_PORT=$SMTPS_PORT" "IMAP_PORT=$IMAP_PORT" \
        "IMAPS_PORT=$IMAPS_PORT" "TOKEN_SECRET=$TOKEN_SECRET" > "$D/env"
    trap 'stop_smtp; stop_imap' EXIT # should the start fail half-way; the folder stays, to look into
    # This makes the queue's folders, which dovecot needs for its socket.
    postfix -c "$D/postfix/conf" check
    start_imap 9>&-; start_smtp 9>&-
    exec 9>&-
    trap - EXIT
    cat "$D/env"
}

down() {
    stop_smtp; stop_imap
    rm -rf "$D"
}

known() {
    D=${1:-}
    [ -n "$D" ] && [ -s "$D/env" ] || die "no servers in '$D'"
    . "$D/env"
    D=$DIR
}

base64url() { base64 -w0 | tr '+/' '-_' | tr -d '='; }

token() {
    local now claims head
    now=$(date +%s)
    claims="{\"sub\":\"$1@$DOMAIN\",\"iat\":$((now - 7200)),\"exp\":$((now + $2))}"
    head="$(printf '{"alg":"HS256","typ":"JWT"}' | base64url).$(printf '%s' "$claims" | base64url)"
    printf '%s.%s\n' "$head" \
        "$(printf '%s' "$head" | openssl dgst -sha256 -hmac "$TOKEN_SECRET" -binary | base64url)"
}

case "${1:-}" in
    run)
        trap '' INT # the caller's Ctrl-C reaches us too; its end closes our input, which is enough
        up "${2:-}"
        echo READY
        cat > /dev/null || true
        down
        ;;
    up) up "${2:-}" ;;
    down) known "${2:-}"; down ;;
    stop) known "${2:-}"; "stop_${3:?smtp or imap}" ;;
    start) known "${2:-}"; "start_${3:?smtp or imap}" ;;
    lapse) known "${2:-}"; show_certificate -startdate 20200101000000Z -enddate 20200131000000Z ;;
    renew) known "${2:-}"; show_certificate ;;
    token) known "${2:-}"; token "${3:?user}" "${4:?seconds}" ;;
    *) sed -n '2,15s/^# \{0,1\}//p' "$0" >&2; exit 2 ;;
esac
