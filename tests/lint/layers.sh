#!/bin/sh
# The layers: core includes core alone and links only what computes; an adapter includes core and its own folder; only
# daemon may include all. Prints each include that points the wrong way; exits 1 where there is one.
cd "$(dirname "$0")/../.." || exit 1
bad=$(
    grep -rnE '^#include "' core | grep -vE '#include "core/'
    grep -rnE '^#include <' core | grep -vE '<(glib|jansson|math|std[a-z]+|string|float|limits|inttypes|libical/ical|nettle/sha2|ctype|errno|time|arpa/inet)\.h>'
    for folder in adapters/*/; do
        grep -rnE '^#include "' "$folder" | grep -vE "#include \"(core/|$folder)"
    done
    grep -rnE '^#include "daemon/' core adapters
    grep -rnE '^#include "tests/' core adapters daemon
)
[ -z "$bad" ] && exit 0
echo "an include points the wrong way:"
echo "$bad"
exit 1
