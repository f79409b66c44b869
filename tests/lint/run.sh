#!/bin/sh
# Runs every test program given, as many at a time as there are cores, quietly where it passes and in full where it fails;
# ends with a count.
results=$(mktemp -d)
export results
printf '%s\n' "$@" | xargs -P "$(nproc)" -n 1 sh -c '
    log=$results/$(echo "$1" | tr / _)
    if "$1" >"$log" 2>&1; then
        mv "$log" "$log.passed"
    else
        echo "FAILED $1"
        cat "$log"
    fi' run
passed=$(cat "$results"/* | grep -c '^\[       OK \]')
failed=$(find "$results" -type f ! -name '*.passed' | wc -l)
rm -rf "$results"
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
