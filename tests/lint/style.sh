#!/bin/sh
# Style is checked, not discussed: clang-format, SPDX lines, file lengths, words that do not belong.
cd "$(dirname "$0")/../.." || exit 1
files=$(git ls-files 'core/*.[ch]' 'adapters/*.[ch]' 'daemon/*.[ch]' 'tests/*.[ch]')
status=0
clang-format --dry-run -Werror $files || status=1
for file in $files; do
    head -1 "$file" | grep -q 'SPDX-License-Identifier: Apache-2.0' || { echo "$file: no SPDX line"; status=1; }
    lines=$(wc -l <"$file")
    [ "$lines" -le 500 ] || { echo "$file: $lines lines; it asks to be two files"; status=1; }
done
if grep -rnIE '(TODO|FIXME|XXX)' core adapters daemon config; then
    echo "unfinished work is written down above"
    status=1
fi
exit $status
