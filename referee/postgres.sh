#!/usr/bin/env bash
# A PostgreSQL server of its own for as long as a command runs: in a temporary folder, on a free port of this machine,
# stopped and removed whatever happens. The command finds its address in PROBEWRIGHT_TEST_POSTGRES, and in
# PROBEWRIGHT_TEST_POSTGRES_KILL a command that kills the server without warning and starts it again.
#   referee/postgres.sh run COMMAND…
#   referee/postgres.sh kill FOLDER
set -uo pipefail

# Debian keeps the server's programs out of the path.
programs() {
    local folder
    for folder in $(command -v pg_ctl | xargs -r readlink -f | xargs -r dirname) $(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -rV); do
        [ -x "$folder/initdb" ] && [ -x "$folder/postgres" ] && echo "$folder" && return 0
    done
    return 1
}

bin=$(programs) || { echo "PostgreSQL's server is missing: apt-get install postgresql" >&2; exit 3; }

# The server refuses to be run by root.
plainly() {
    if [ "$(id -u)" != 0 ]; then "$@"; else runuser -u "$(id -un postgres 2>/dev/null || echo nobody)" -- "$@"; fi
}

begin() {
    local port
    port=$(cat "$1/port")
    (cd "$1" && plainly "$bin/pg_ctl" -D "$1/data" -w -t 30 -l "$1/log" \
        -o "-c listen_addresses=127.0.0.1 -c port=$port -c unix_socket_directories='' -c max_connections=60" start) \
        >/dev/null 2>&1 </dev/null
}

# The first process and all that it has started, by their numbers.
kill_server() {
    local first try
    first=$(head -n 1 "$1/data/postmaster.pid") || return 1
    # shellcheck disable=SC2046
    kill -9 "$first" $(ps -o pid= --ppid "$first") 2>/dev/null
    # What the killed ones held is let go in a moment.
    for try in 1 2 3 4 5 6 7 8 9 10; do
        begin "$1" && return 0
        sleep 0.3
    done
    tail -n 5 "$1/log" >&2
    return 1
}

run() {
    local folder result try
    folder=$(mktemp -d /tmp/probewright-postgres.XXXXXX) || return 2
    # shellcheck disable=SC2064
    trap "end '$folder'" EXIT
    trap 'exit 130' INT TERM HUP
    chmod 755 "$folder" && touch "$folder/log"
    [ "$(id -u)" != 0 ] || chown -R "$(id -un postgres 2>/dev/null || echo nobody)" "$folder"
    (cd "$folder" && plainly "$bin/initdb" -D "$folder/data" -U probewright -A trust -E UTF8 --no-locale) >"$folder/initdb.log" 2>&1 ||
        { cat "$folder/initdb.log" >&2; return 2; }
    for try in 1 2 3; do
        python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])' >"$folder/port"
        begin "$folder" && break
        [ "$try" = 3 ] && { tail -n 20 "$folder/log" >&2; return 2; }
    done
    PROBEWRIGHT_TEST_POSTGRES="postgres://probewright@127.0.0.1:$(cat "$folder/port")/postgres" \
        PROBEWRIGHT_TEST_POSTGRES_KILL="$(readlink -f "$0") kill $folder" "$@"
    result=$?
    return $result
}

end() {
    (cd "$1" && plainly "$bin/pg_ctl" -D "$1/data" -m immediate -w -t 20 stop) >/dev/null 2>&1 </dev/null
    rm -rf "$1"
}

case "${1:-}" in
run) shift && run "$@" ;;
kill) kill_server "$2" ;;
*) sed -n '2,6s/^# *//p' "$0" >&2 && exit 2 ;;
esac
