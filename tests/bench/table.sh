#!/bin/sh
# Runs the benches one after the other and prints their rows as one table: table.sh PROGRAM ...
printf '%-38s %12s %-19s %10s | %-34s %12s %-19s %10s  %s\n' figure osier '(spread)' 'CPU each' \
    'bare limit of the same run' '' '(spread)' 'CPU each' 'ratio (spread)'
for program in "$@"; do
    "$program" || { echo "$program: failed" >&2; exit 1; }
done
