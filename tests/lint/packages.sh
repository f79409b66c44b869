#!/bin/sh
# Installs the Debian packages that a list names and this machine lacks. Usage: packages.sh LIST
# A command of that name that came another way is as good as the package.
missing=$(grep -v '^#' "$1" | while read -r package; do
    [ -n "$package" ] || continue
    dpkg-query -W -f '${db:Status-Status}\n' "$package" 2>/dev/null | grep -qx installed || command -v "$package" >/dev/null || echo "$package"
done)
[ -n "$missing" ] || exit 0
echo "installing: $(echo $missing)"
as_root=
[ "$(id -u)" -eq 0 ] || as_root=sudo
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -qq && $as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null
