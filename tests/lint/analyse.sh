#!/bin/sh
# gcc -fanalyzer and clang-tidy over core, adapters and daemon, or over the files given; ANALYSE_FLAGS are the libraries'.
# An exception is a line of tests/lint/analyse.txt, for a file or for a kind of line: see its head. Ends with 1 where
# anything else is found, or, after a look at everything, where an exception is needed no more.
export flags="$ANALYSE_FLAGS -std=gnu11 -I." found=build/analyse
exceptions=tests/lint/analyse.txt
rm -rf "$found"
mkdir -p "$found"
whole=0
[ $# -gt 0 ] || { whole=1; set -- $(git ls-files core adapters daemon | grep '\.c$'); }

# Core is built with its list of what it must not call.
printf '%s\n' "$@" | xargs -P "$(nproc)" -n 1 sh -c '
    own=
    case $1 in core/*) own="-include core/banned.h" ;; esac
    out=$found/$(echo "$1" | tr / _)
    gcc $flags $own -O1 -Wall -Wextra -fanalyzer -c -o /dev/null "$1" >"$out.gcc" 2>&1
    clang-tidy-14 --quiet --config-file=tests/lint/tidy.yaml "$1" -- $flags $own >"$out.tidy" 2>/dev/null' one

# "file:line:col: warning: words [check]"
cat "$found"/*.gcc "$found"/*.tidy | grep -E '(warning|error):' | sed "s|^$PWD/||" | sort -u >"$found/all.txt"
awk -v whole="$whole" '
    # Does a line of the file, the one that was found or (at 0) the one that declares name, hold text?
    function line_has(file, at, name, text,    line, n, has) {
        while ((getline line < file) > 0)
            if ((at > 0 ? ++n == at : line ~ "[ *]" name "[ ;,=]") && index(line, text)) has = 1
        close(file)
        return has
    }
    function excepted(file, at, check, words,    i, name) {
        name = words
        sub(/^[^\047]*\047/, "", name)
        sub(/\047.*/, "", name)
        for (i = 1; i <= n_exceptions; i++) {
            if (checks[i] != check) continue
            if (wheres[i] == file ||
                (wheres[i] ~ /^line:/ && line_has(file, at, "", substr(wheres[i], 6))) ||
                (wheres[i] ~ /^declared:/ && line_has(file, 0, name, substr(wheres[i], 10)))) {
                used[i] = 1
                return 1
            }
        }
        return 0
    }
    NR == FNR { if ($1 != "" && $1 !~ /^#/) { checks[++n_exceptions] = $1; wheres[n_exceptions] = $2 } next }
    {
        split($0, part, ":")
        check = $NF
        gsub(/[][]/, "", check)
        if (!excepted(part[1], part[2], check, $0)) { print; left = 1 }
    }
    END {
        for (i = 1; whole && i <= n_exceptions; i++)
            if (!used[i]) { print "analyse.txt: " checks[i] " " wheres[i] ": is found no more; take it out"; left = 1 }
        exit left
    }' "$exceptions" "$found/all.txt"
