#!/bin/sh
# Runs every test program given, quietly where it passes and in full where it fails; ends with a count.
passed=0
failed=0
log=$(mktemp)
for program in "$@"; do
    if "$program" >"$log" 2>&1; then
        passed=$((passed + $(grep -c '^\[       OK \]' "$log")))
    else
        echo "FAILED $program"
        cat "$log"
        passed=$((passed + $(grep -c '^\[       OK \]' "$log")))
        failed=$((failed + 1))
    fi
done
rm -f "$log"
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
