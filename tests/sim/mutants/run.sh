#!/bin/sh
# Plants each bug of this folder in a copy of the tree and runs simulated clinics, seed after seed, until a rule of the oracle
# breaks. Shows which seed found it. Ends with 1 where one was not found.
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
build || { tail -5 "$work/build.log"; exit 1; }
(cd "$work/tree" && build/sim --seeds 1) >"$work/found.log" 2>&1 || { cat "$work/found.log"; exit 1; }

missed=0
printf '%-24s %5s  %s\n' planted seed 'the rule that broke'
for name; do
    patch -s -p1 -d "$work/tree" <"$here/$name.patch" || { echo "$name: does not apply"; missed=1; continue; }
    if ! build; then
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
