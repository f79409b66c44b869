#!/bin/sh
# gcc -fanalyzer and clang-tidy over core, adapters and daemon. An exception is a line of tests/lint/analyse.txt: the check, the
# file, and after a # why it is none.
flags="$(sed -n 's/^LIBS := //p' Makefile)"
flags="$(pkg-config --cflags $flags) -std=gnu11 -I."
found=build/analyse
mkdir -p "$found"
excepted() { grep -qE "^$1 $2( |\$)" tests/lint/analyse.txt; }

for file in $(git ls-files core adapters daemon | grep '\.c$'); do
    excepted fanalyzer "$file" || gcc $flags -O1 -Wall -Wextra -fanalyzer -c -o /dev/null "$file" 2>&1
done >"$found/gcc.txt"
clang-tidy-14 --quiet --config-file=tests/lint/tidy.yaml $(git ls-files core adapters daemon | grep '\.c$') -- $flags \
    >"$found/tidy.txt" 2>/dev/null
grep -hE 'warning:|error:' "$found/gcc.txt" "$found/tidy.txt" | sort -u >"$found/all.txt"
cat "$found/all.txt"
[ ! -s "$found/all.txt" ]
