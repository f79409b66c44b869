#!/bin/sh
# Every test that the documents on safety and security name is there: `tests/file_test.c` scenario, scenario.
missing=0
grep -ohE '`tests/[a-z_/]*_test\.c`( [a-z_0-9]+(, [a-z_0-9]+)*)?' docs/security.md docs/safety.md | tr -d '`,' |
    { while read -r file scenarios; do
        [ -f "$file" ] || { echo "docs name $file, which is not there"; missing=1; continue; }
        for scenario in $scenarios; do
            grep -q "^static void $scenario(" "$file" || { echo "docs name $scenario, which $file has not"; missing=1; }
        done
    done; exit $missing; }
