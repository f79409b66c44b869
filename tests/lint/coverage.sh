#!/bin/sh
# Runs the tests of a folder in a build with counters and tells, room by room, which branches they took. Ends with 1 below a
# limit: 90 % of core, 80 % of adapters and daemon. Usage: coverage.sh BUILD TESTS
build=$1
tests=$2
find "$build" -name '*.gcda' -delete
find "$build/$tests" -name '*_test' -type f | sort | while read -r program; do
    [ -f "${program#"$build"/}.c" ] || continue
    timeout 900 "$program" >"$build/coverage.out" 2>&1 </dev/null || echo "failed: $program"
done
# One object at a time: gcov tells each of its sources; only the object's own counts.
find "$build/core" "$build/adapters" "$build/daemon" -name '*.gcno' | sort | while read -r notes; do
    source=${notes#"$build"/}
    gcov -b -n -r -o "$(dirname "$notes")" "$notes" 2>/dev/null | awk -v source="${source%.gcno}.c" -v quote="'" '
        $1 == "File" { own = ($2 == quote source quote); if (own) found = 1 }
        own && /^Lines executed/ { split($2, part, /[:%]/); lines = part[2] * $NF / 100; of_lines = $NF }
        own && /^Taken at least once/ { split($4, part, /[:%]/); taken = part[2] * $NF / 100; of = $NF }
        END { if (found) printf "%s %.0f %d %.0f %d\n", source, taken, of, lines, of_lines }'
done | tee "$build/coverage.txt" | awk '
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
            share = 100 * all[layer] / (of_all[layer] ? of_all[layer] : 1)
            printf "%-22s %7.1f %% of %d branches, limit %d %%%s\n", layer, share, of_all[layer], limit[layer],
                share < limit[layer] ? ": BELOW" : ""
            below += share < limit[layer]
        }
        exit below > 0
    }'
