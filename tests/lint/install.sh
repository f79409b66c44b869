#!/bin/sh
# What make install lays down works by itself: the programs find their files, the manual pages and the completion are well
# formed, the service's unit is closed as far as it says. Usage: install.sh OUT
set -eu
tree=$(mktemp -d)
trap 'rm -rf "$tree"' EXIT
make --no-print-directory install DESTDIR="$tree" PREFIX=/usr >/dev/null
export OSIER_SHARE="$tree/usr/share/osier"
"$tree/usr/bin/osier" init "$tree/clinic" >/dev/null
"$tree/usr/bin/osier" check-config --clinic "$tree/clinic" >/dev/null
for page in man1/osier.1 man8/osierd.8; do
    said=$(gzip -dc "$tree/usr/share/man/$page.gz" | groff -z -man -ww 2>&1 || true)
    [ -z "$said" ] || { echo "$page: $said"; exit 1; }
done
# Programs and manual pages say one version.
version=$("$tree/usr/bin/osier" --version)
[ "$("$tree/usr/bin/osierd" --version)" = "osierd ${version#osier }" ] || { echo "osier and osierd say different versions"; exit 1; }
for page in man1/osier.1 man8/osierd.8; do
    gzip -dc "$tree/usr/share/man/$page.gz" | head -1 | grep -qF "\"$version\"" || { echo "$page does not say $version"; exit 1; }
done
bash -n "$tree/usr/share/bash-completion/completions/osier"
# Every command of the help is in the manual page.
"$tree/usr/bin/osier" --help | awk '/^  [a-z-]+ +/ {print $1}' | while read -r name; do
    gzip -dc "$tree/usr/share/man/man1/osier.1.gz" | grep -qx "\.B osier $name" || { echo "the manual page lacks $name"; exit 1; }
done
unit="$tree/usr/lib/systemd/system/osierd.service"
if command -v systemd-analyze >/dev/null; then
    score=$(systemd-analyze security --offline=true "$unit" 2>/dev/null | sed -n 's/.*exposure level for .*: \([0-9.]*\).*/\1/p')
    [ "$(echo "$score" | awk '{print ($1 <= 1.5)}')" = 1 ] || { echo "osierd.service: exposure $score, wanted 1.5 at most"; exit 1; }
fi
make --no-print-directory uninstall DESTDIR="$tree" PREFIX=/usr
left=$(find "$tree/usr" -type f)
[ -z "$left" ] || { echo "uninstall leaves: $left"; exit 1; }
