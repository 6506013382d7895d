# Keeps one PostgreSQL server for a program of tests. Told on standard input: `start` and `stop`, each
# answered with a line, and `end`. When the input ends, because the program has, that is the end too: the
# server and its folder go.
#
# Arguments: where the programs of PostgreSQL are, the folder, the port, and more options of the server.
set -eu
bin=$1
folder=$2
port=$3
shift 3

# A server refuses to run as root.
as=
if [ "$(id -u)" = 0 ]; then
  chown -R postgres "$folder"
  as="setpriv --reuid=postgres --regid=postgres --clear-groups"
fi

cd "$folder"
server=
# Its language sorts otherwise than bytes do, which no query may notice.
$as "$bin/initdb" --pgdata=data --username=gudgeon --auth=trust --no-sync --encoding=UTF8 \
  --locale=C.UTF-8 --locale-provider=icu --icu-locale=en >initdb.log 2>&1
if [ -e hba.conf ]; then cat hba.conf >data/pg_hba.conf; fi

start() {
  $as "$bin/postgres" -D data -k "$folder" -h 127.0.0.1 -p "$port" "$@" >>server.log 2>&1 &
  server=$!
  until "$bin/pg_isready" -q -h "$folder" -p "$port"; do
    kill -0 "$server"
    sleep 0.02
  done
}

stop() {
  # One that never came up has nothing to end.
  [ -z "$server" ] || kill -INT "$server" 2>/dev/null || true
  wait
  server=
}

leave() {
  stop
  cd /
  rm -rf "$folder"
}
trap leave EXIT
trap "exit 130" INT TERM

while read -r word; do
  case $word in
    start) start "$@" ;;
    stop) stop ;;
    end) exit ;;
  esac
  echo "$word"
done
