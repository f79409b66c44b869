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
# A server of databases is wanted for tests, which start their own: none is to run by itself.
case " $(echo $missing) " in *" postgresql "*)
    [ -e /etc/postgresql-common ] || { $as_root mkdir -p /etc/postgresql-common
        echo "create_main_cluster = false" | $as_root tee /etc/postgresql-common/createcluster.conf >/dev/null; } ;;
esac
$as_root apt-get update -qq && $as_root apt-get install -y -qq -o Dpkg::Options::=--force-confold --no-install-recommends $missing >/dev/null
