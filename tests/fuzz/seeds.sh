#!/bin/sh
# Lays out what a fuzz target begins with, one file each. Usage: seeds.sh TARGET FOLDER
target=$1
folder=$2
here=$(dirname "$0")
mkdir -p "$folder"

# The texts of labelled replies, behind a character that chooses the language.
labelled() {
    for file in tests/core/talk/*-dev.tsv; do
        awk -F '\t' -v folder="$folder" 'FNR > 1 {
            path = folder "/" $1
            gsub(/\\n/, "\n", $2)
            printf "%c%s", 48 + FNR % 3, $2 > path
            close(path)
        }' "$file"
    done
}

case $target in
reader) labelled ;;
clinic) cp config/clinic.yaml "$folder" && cp config/demo/*.yaml "$folder" 2>/dev/null ;;
programme) cp config/programmes/*.yaml tests/core/practice/bad/*.yaml "$folder" ;;
pack) cp config/languages/*.yaml "$folder" ;;
esac
[ ! -d "$here/seeds/$target" ] || cp "$here/seeds/$target"/* "$folder"
exit 0
