#!/bin/sh
# Runs the tests of a folder in a build with counters and tells, room by room, which branches they took. Ends with 1 where a test
# failed, or with all tests below a limit (90 % of core, 80 % of adapters and daemon). Usage: coverage.sh BUILD TESTS
#
# What counts: each way that a condition of a .c file can go, as gcov sees it at -O0: if and else, each side of && and ||, each
# case of a switch, going on and ending of a loop. Taken means at least once. C has no branches for errors that are thrown, and
# those of g_autoptr lie in headers, which are not counted. Left out are lines with a way that nothing can take: of a g_assert
# (it ends the program, and is a bug of ours), of json_array_foreach and json_object_foreach (an item that is NULL within the
# list's length), of g_clear_pointer (GLib's look whether there is anything to free). Library calls that fail only for want of
# memory do count: adapters/net, seal and peer would be higher without.
# FILE:LINE of what was not taken lies in BUILD/untaken.txt.
build=$1
tests=$2
export build
find "$build" -name '*.gcda' -delete
rm -f "$build/coverage.failed"
find "$build/$tests" -name '*_test' -type f | sort | while read -r program; do
    [ ! -f "${program#"$build"/}.c" ] || echo "$program"
done | xargs -P "$(nproc)" -n 1 sh -c '
    timeout 900 "$1" >"$1.out" 2>&1 </dev/null || echo "failed: $1" | tee -a "$build/coverage.failed"' one
# With all of them, also those that drive the programs from outside.
[ "$tests" != tests ] || for part in page-test records-test; do
    make --no-print-directory FLAVOUR="${build#build/}" $part >"$build/$part.out" 2>&1 ||
        echo "failed: $part" | tee -a "$build/coverage.failed"
done
# One object at a time: gcov tells each of its sources; only the object's own counts.
find "$build/core" "$build/adapters" "$build/daemon" -name '*.gcno' | sort | while read -r notes; do
    source=${notes#"$build"/}
    gcov -b -c -t -r -o "$(dirname "$notes")" "$notes" 2>/dev/null | awk -F: -v source="${source%.gcno}.c" -v list="$build/untaken.new" '
        $3 == "Source" { own = ($4 == source) }
        !own { next }
        /^branch/ { if (!skip) { of++; if ($0 ~ /taken [1-9]/) taken++; else untaken = 1 } next }
        /^ *[^ ]+: *[0-9]+:/ {
            if (untaken) print source ":" line >list
            untaken = 0
            line = $2 + 0
            skip = ($0 ~ /g_assert|json_(array|object)_foreach|g_clear_pointer/)
            if (line > 0 && $1 !~ /-$/) { of_lines++; if ($1 !~ /[#=]/) lines++ }
        }
        END {
            if (untaken) print source ":" line >list
            if (of_lines > 0) printf "%s %d %d %d %d\n", source, taken, of, lines, of_lines
        }'
    cat "$build/untaken.new" 2>/dev/null
    rm -f "$build/untaken.new"
done >"$build/coverage.txt"
grep ':' "$build/coverage.txt" >"$build/untaken.txt"
grep -v ':' "$build/coverage.txt" | awk -v whole="$([ "$tests" != tests ] || echo 1)" '
    { n = split($1, part, "/"); room = part[1]; if (n > 2) room = room "/" part[2]
      taken[room] += $2; of[room] += $3; lines[room] += $4; of_lines[room] += $5
      all[part[1]] += $2; of_all[part[1]] += $3 }
    END {
        printf "%-22s %9s %9s\n", "room", "branches", "lines"
        for (room in of) printf "%-22s %7.1f %% %7.1f %%\n", room, 100 * taken[room] / (of[room] ? of[room] : 1),
            100 * lines[room] / (of_lines[room] ? of_lines[room] : 1) | "sort"
        close("sort")
        limit["core"] = 90; limit["adapters"] = 80; limit["daemon"] = 80
        for (layer in limit) {
            if (!whole) continue
            share = 100 * all[layer] / (of_all[layer] ? of_all[layer] : 1)
            printf "%-22s %7.1f %% of %d branches, limit %d %%%s\n", layer, share, of_all[layer], limit[layer],
                share < limit[layer] ? ": BELOW" : ""
            below += share < limit[layer]
        }
        exit below > 0
    }' && [ ! -e "$build/coverage.failed" ]
