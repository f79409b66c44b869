#!/bin/sh
# gcc -fanalyzer and clang-tidy over core, adapters and daemon, or over the files given; ANALYSE_FLAGS are the
# libraries'. An exception is a line of
# tests/lint/analyse.txt: the check, the file, and after a # why it is none. Ends with 1 where anything else is found.
flags="$ANALYSE_FLAGS -std=gnu11 -I."
found=build/analyse
mkdir -p "$found"
[ $# -gt 0 ] || set -- $(git ls-files core adapters daemon | grep '\.c$')

# Core is built with its list of what it must not call.
own() { case $1 in core/*) echo "-include core/banned.h" ;; esac; }

for file; do
    gcc $flags $(own "$file") -O1 -Wall -Wextra -fanalyzer -c -o /dev/null "$file" 2>&1
done >"$found/gcc.txt"
for file; do
    clang-tidy-14 --quiet --config-file=tests/lint/tidy.yaml "$file" -- $flags $(own "$file") 2>/dev/null
done >"$found/tidy.txt"

# "file:line:col: warning: words [check]"
grep -hE '(warning|error):' "$found/gcc.txt" "$found/tidy.txt" | sed "s|^$PWD/||" | sort -u >"$found/all.txt"
awk 'NR == FNR { if ($1 != "" && $1 !~ /^#/) excepted[$1 " " $2] = 1; next }
    { file = $1; sub(/:.*/, "", file); check = $NF; gsub(/[][]/, "", check)
      if (!((check " " file) in excepted)) { print; left = 1 } }
    END { exit left }' tests/lint/analyse.txt "$found/all.txt"
