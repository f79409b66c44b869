#!/bin/sh
# The Debian package in a root of its own, laid over this machine's and gone with this script: it installs, its osierd works
# under its user, an upgrade touches nothing that is the clinic's, remove takes away all that came, and purge leaves records and
# nothing else. Needs root, and a kernel that lays one folder over another. Usage: deb.sh FILE.deb
set -eu
deb=$(realpath "$1")
if [ "${2:-}" != inside ]; then
    unshare -m true 2>/dev/null || { echo "left out: no root of its own can be made here"; exit 0; }
    exec unshare -m sh "$0" "$deb" inside
fi
mount --make-rprivate /
mount -t tmpfs tmpfs /mnt
mkdir /mnt/upper /mnt/work /mnt/root
mount -t overlay overlay -o lowerdir=/,upperdir=/mnt/upper,workdir=/mnt/work /mnt/root ||
    { echo "left out: no folder can be laid over another here"; exit 0; }
mount -t proc proc /mnt/root/proc
mount --bind /dev /mnt/root/dev
cp "$deb" /mnt/root/mnt/osier.deb
home=/var/lib/osier

inside() { chroot /mnt/root "$@"; }
# Quietly, unless it fails.
package() { inside dpkg "$@" >/mnt/said 2>&1 || { cat /mnt/said; exit 1; }; }
wrong() { echo "the package: $1"; exit 1; }
# osierd as its user, until it is ready; then it is told to stop.
works() {
    chroot /mnt/root setpriv --reuid osier --regid osier --clear-groups osierd --clinic "$home" >/mnt/osierd 2>&1 </dev/null &
    pid=$!
    until grep -q '^osierd: ready' /mnt/osierd; do
        kill -0 "$pid" 2>/dev/null || { cat /mnt/osierd; wrong "its osierd does not start"; }
    done
    inside setpriv --reuid osier --regid osier --clear-groups osier status --clinic "$home" >/dev/null || wrong "osier status fails"
    kill -TERM "$pid"
    wait "$pid" || wrong "its osierd ended with $?"
}

package -i /mnt/osier.deb
[ "$(inside osier --version)" = "osier $(inside dpkg-query -Wf '${Version}' osier)" ] || wrong "osier says another version than its package"
[ "$(inside stat -c '%U:%G %a' "$home")" = "osier:osier 750" ] || wrong "$home is not its user's alone"
works
before=$(inside sh -c "cd $home && find . -type f ! -name '*.sock' | sort | xargs sha256sum")
package -i /mnt/osier.deb
[ "$(inside sh -c "cd $home && find . -type f ! -name '*.sock' | sort | xargs sha256sum")" = "$before" ] || wrong "an upgrade changes the clinic's files"
works
package -r osier
for left in /usr/bin/osier /usr/bin/osierd /usr/share/osier /usr/share/doc/osier /lib/systemd/system/osierd.service; do
    [ ! -e "/mnt/root$left" ] || wrong "remove leaves $left"
done
package -P osier
grep -q "holds a clinic's records" /mnt/said || wrong "purge does not say that it leaves the records"
[ -e "/mnt/root$home/store.db" ] || wrong "purge takes records"
rm "/mnt/root$home"/store.db*
# Keys and copies belong to records that lie on a server.
inside sh -c "echo key >$home/secrets/numbers.key"
package -i /mnt/osier.deb
package -P osier
[ -e "/mnt/root$home/secrets/numbers.key" ] || wrong "purge takes keys"
rm -r "/mnt/root$home"
package -i /mnt/osier.deb
package -P osier
[ ! -e "/mnt/root$home" ] || wrong "purge leaves a folder without records"
! inside id osier >/dev/null 2>&1 || wrong "purge leaves the user"
left=$(find /mnt/upper -iname '*osier*' ! -path '/mnt/upper/mnt/*' ! -type c)
[ -z "$left" ] || wrong "purge leaves $left"
echo "the package installs, works, goes on, goes, and leaves a clinic's records alone"
