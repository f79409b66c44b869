#!/bin/sh
# Runs targets of make one after the other, all of them whatever fails, and tells of each whether it passed and how long it took;
# what a part prints is kept in a file. With a number of seconds above 0 each part is only begun, and stopped after that long.
#
#   parts.sh FOLDER SECONDS TARGET ...
logs=$1
begin_s=$2
shift 2
mkdir -p "$logs"
failed=0
for part in "$@"; do
    log=$logs/$part.log
    began=$(date +%s)
    if [ "$begin_s" -gt 0 ]; then
        timeout -k 5 "$begin_s" ${MAKE:-make} --no-print-directory "$part" >"$log" 2>&1 </dev/null
    else
        ${MAKE:-make} --no-print-directory "$part" >"$log" 2>&1 </dev/null
    fi
    code=$?
    took=$(($(date +%s) - began))
    case $code in
    0) echo "$part: passed, $took s" ;;
    124 | 137) echo "$part: begun, and stopped after $took s" ;;
    *)
        echo "$part: FAILED, $took s; the end of $log:"
        tail -n 20 "$log"
        failed=$((failed + 1))
        ;;
    esac
done
[ "$failed" -eq 0 ] || { echo "$failed of $# parts failed"; exit 1; }
