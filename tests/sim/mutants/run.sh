#!/bin/sh
# Plants each bug of this folder in a copy of the tree and runs simulated clinics, seed after seed, until a rule of the oracle
# breaks. Shows which seed found it. Where a patch says "Test: tests/ROOM/NAME_test", what the simulation cannot see (real
# sockets, years, a server's lease) is looked for by that test alone. Ends with 1 where one was not found.
#   run.sh WORK SEEDS [NAME ...]     WORK: a folder for the copy; SEEDS: so many are tried at most
set -u
work=$1 most=$2
shift 2
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../../.." && pwd)
[ $# -gt 0 ] || set -- $(cd "$here" && ls *.patch | sed 's/\.patch$//')

build() { make -C "$work/tree" --no-print-directory -j2 build/sim >"$work/build.log" 2>&1 </dev/null; }

mkdir -p "$work/tree"
for part in Makefile core adapters daemon config tests; do
    rm -rf "${work:?}/tree/$part"
    cp -rp "$root/$part" "$work/tree/$part"
done
# An earlier run may have left objects with a bug in them.
sed -n 's|^+++ b/||p' "$here"/*.patch | sort -u | (cd "$work/tree" && xargs touch)
build || { tail -5 "$work/build.log"; exit 1; }
(cd "$work/tree" && build/sim --seeds 1) >"$work/found.log" 2>&1 || { cat "$work/found.log"; exit 1; }

# Builds the test that a patch names and runs it: the first scenario that failed, or how it ended.
by_test() {
    make -C "$work/tree" --no-print-directory -j2 "build/$1" >"$work/build.log" 2>&1 </dev/null || return 2
    (cd "$work/tree" && timeout 300 "build/$1") >"$work/found.log" 2>&1 </dev/null
    ended=$?
    [ "$ended" -ne 0 ] || return 0
    rule=$(sed -n 's/^\[  FAILED  \] \([a-z_].*\)$/\1/p' "$work/found.log" | head -n 1)
    [ -n "$rule" ] || rule="ended with $ended in $(sed -n 's/^\[ RUN      \] //p' "$work/found.log" | tail -n 1)"
    return 1
}

missed=0
printf '%-24s %5s  %s\n' planted seed 'the rule that broke'
for name; do
    patch -s -p1 -d "$work/tree" <"$here/$name.patch" || { echo "$name: does not apply"; missed=1; continue; }
    test=$(sed -n 's/^Test: //p' "$here/$name.patch")
    if [ -n "$test" ]; then
        by_test "$test"
        case $? in
        0) printf '%-24s %5s  NOT FOUND by %s\n' "$name" - "$test"; missed=1 ;;
        1) printf '%-24s %5s  %s\n' "$name" test "$rule" ;;
        *) echo "$name: does not build"; tail -5 "$work/build.log"; missed=1 ;;
        esac
    elif ! build; then
        echo "$name: does not build"
        tail -5 "$work/build.log"
        missed=1
    elif (cd "$work/tree" && build/sim --seeds "$most" --seconds 100000) >"$work/found.log" 2>&1 </dev/null; then
        printf '%-24s %5s  NOT FOUND in %s seeds\n' "$name" - "$most"
        missed=1
    else
        seed=$(sed -n 's/^BROKEN seed \([0-9]*\),.*/\1/p' "$work/found.log" | head -n 1)
        rule=$(sed -n '/^BROKEN/{n;s/^  //p}' "$work/found.log" | head -n 1)
        [ -n "$seed" ] || rule=$(tail -n 1 "$work/found.log")
        printf '%-24s %5s  %s\n' "$name" "${seed:--}" "$rule"
        # An assertion of the program's own is found as well; that nothing was said is not.
        [ -n "$rule" ] || missed=1
    fi
    patch -s -R -p1 -d "$work/tree" <"$here/$name.patch"
done
exit $missed
