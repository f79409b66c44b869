#!/bin/sh
# Makes a clinic folder for the page out of what a rehearsal left: the demo clinic's settings with a gateway that sends
# nothing, and the rehearsal's store. Usage: clinic.sh REHEARSED FOLDER PORT
set -eu
rehearsed=$1
folder=$2
port=$3
mkdir -p "$folder/secrets" "$folder/spool"
chmod 700 "$folder" "$folder/secrets"
{
    sed -e '/^gateways:/,$d' -e '/^hooks:/d' -e "s/^page:.*/page: {listen: \"127.0.0.1:$port\"}/" config/demo/clinic.yaml
    printf 'gateways:\n  spool:\n    kind: spool\n'
} >"$folder/clinic.yaml"
cp "$rehearsed/store.db" "$folder/store.db"
