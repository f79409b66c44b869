#!/bin/sh
# Opens the clinic's page on what a rehearsal left, with a clock that goes on from its end. Usage: open.sh REHEARSED FOLDER PORT
set -eu
rehearsed=$1
folder=$2
port=$3
rm -rf "$folder"
sh tests/page/clinic.sh "$rehearsed" "$folder" "$port"
build/osierd --log warnings --clinic "$folder" --clock 2026-03-16T09:00:00Z --speed 1 &
daemon=$!
trap 'kill $daemon 2>/dev/null; wait $daemon' EXIT INT TERM
tries=0
until build/osier status --clinic "$folder" >/dev/null 2>&1; do
    tries=$((tries + 1))
    [ "$tries" -lt 50 ] || exit 1
    sleep 0.2
done
build/osier account add "M. Adeyemi" --role clinician --clinic "$folder"
echo "Ctrl-C ends it."
wait $daemon
