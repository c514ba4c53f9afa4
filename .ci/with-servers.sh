#!/usr/bin/env bash
# Runs a command with a PostgreSQL cluster and a Redis of its own, on free ports, in a temporary
# folder, and removes both afterwards. Usage: with-servers.sh COMMAND [ARGUMENT...]
set -euo pipefail
cd "$(dirname "$0")/.."

stop() { printf '%s\n' "$@" >&2; exit 1; }

[ $# -gt 0 ] || stop "Usage: with-servers.sh COMMAND [ARGUMENT...]"

newest=$(find /usr/lib/postgresql -mindepth 2 -maxdepth 2 -name bin 2>/dev/null | sort -V | tail -1 || true)
[ -z "$newest" ] || PATH=$newest:$PATH
for tool in initdb pg_ctl; do
  command -v $tool >/dev/null 2>&1 || stop "There is no $tool. Install PostgreSQL (Debian: apt-get install postgresql)."
done
command -v redis-server >/dev/null 2>&1 || stop "There is no redis-server. Install Redis (Debian: apt-get install redis-server)."

# PostgreSQL refuses to run as root: then an account without rights owns the cluster.
as=()
if [ "$(id -u)" = 0 ]; then
  owner=postgres
  id "$owner" >/dev/null 2>&1 || owner=nobody
  as=(setpriv --reuid="$owner" --regid="$(id -g "$owner")" --clear-groups)
fi

home=$(mktemp -d)
chmod 755 "$home"
mkdir "$home/postgres" "$home/redis"
[ ${#as[@]} = 0 ] || chown "$owner" "$home/postgres"
redis_pid=
started=

close() {
  status=$?
  trap - EXIT INT TERM
  [ -z "$redis_pid" ] || kill "$redis_pid" 2>/dev/null || true
  [ -z "$started" ] || "${as[@]}" pg_ctl -D "$home/postgres/data" -m immediate -w stop >/dev/null 2>&1 || true
  [ -z "$redis_pid" ] || wait "$redis_pid" 2>/dev/null || true
  rm -rf "$home"
  exit "$status"
}
trap close EXIT
trap 'exit 130' INT
trap 'exit 143' TERM

free_port() {
  "${PYTHON:-python3}" -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}

postgres_port=$(free_port)
cd "$home/postgres"
"${as[@]}" initdb -D data -U labflow --auth=trust --encoding=UTF8 --locale=C.UTF-8 --no-sync >log 2>&1 || { cat log >&2; exit 1; }
"${as[@]}" pg_ctl -D data -w -l "$home/postgres/server.log" -o "-p $postgres_port -c listen_addresses=127.0.0.1 -c unix_socket_directories=$home/postgres -c fsync=off -c synchronous_commit=off -c full_page_writes=off -c max_connections=200" start >log 2>&1 || { cat log server.log >&2; exit 1; }
started=1
"${as[@]}" createdb -h 127.0.0.1 -p "$postgres_port" -U labflow labflow
cd - >/dev/null

redis_port=$(free_port)
redis-server --bind 127.0.0.1 --port "$redis_port" --save "" --appendonly no --dir "$home/redis" --logfile "$home/redis/log" &
redis_pid=$!
for _ in $(seq 100); do
  (exec 3<>"/dev/tcp/127.0.0.1/$redis_port") 2>/dev/null && break
  sleep 0.1
done
kill -0 "$redis_pid" 2>/dev/null || { cat "$home/redis/log" >&2; exit 1; }

export LABFLOW_DATABASE=postgresql://labflow@127.0.0.1:$postgres_port/labflow
export LABFLOW_REDIS=redis://127.0.0.1:$redis_port/0
"$@"
