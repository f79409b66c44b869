#!/bin/sh
# Makes build/osier_VERSION_ARCH.deb from what is built. Usage: build.sh VERSION
set -eu
version=$1
tree=build/deb
rm -rf "$tree"
make --no-print-directory install DESTDIR="$tree" PREFIX=/usr UNITDIR=/lib/systemd/system >/dev/null
mkdir -p "$tree/DEBIAN" "$tree/debian"
mv "$tree/usr/share/doc/osier/LICENSE" "$tree/usr/share/doc/osier/copyright"
arch=$(dpkg --print-architecture)
# The libraries that the programs need, as the packages that hold them.
printf 'Source: osier\n\nPackage: osier\nArchitecture: any\n' >"$tree/debian/control"
depends=$(cd "$tree" && dpkg-shlibdeps -O usr/bin/osier usr/bin/osierd 2>/dev/null | sed 's/^shlibs:Depends=//')
rm -r "$tree/debian"
cat >"$tree/DEBIAN/control" <<END
Package: osier
Version: $version
Architecture: $arch
Maintainer: osier developers <osier@clinic.example>
Depends: $depends, adduser, tzdata, ca-certificates, fonts-dejavu-core
Section: misc
Priority: optional
Description: keeps the thread between a physiotherapist and clients who stretch at home
 Works out each client's sessions from the prescribed stage, sends reminders by
 text and mail through the clinic's own gateway, reads the answers, calls a
 clinician on pain, warning signs or missed days, and mails a weekly page.
 .
 No emergency service and no medical device: a clinician decides.
END
install -m 755 config/debian/postinst config/debian/prerm config/debian/postrm "$tree/DEBIAN"
dpkg-deb --root-owner-group --build "$tree" "build/osier_${version}_$arch.deb"
