#!/bin/sh
# Writes the texts of labelled replies as seeds of a fuzz target, one file each. Usage: seeds.sh FOLDER FILE.tsv...
folder=$1
shift
mkdir -p "$folder"
for file in "$@"; do
    awk -F '\t' -v folder="$folder" 'FNR > 1 {
        path = folder "/" $1
        gsub(/\\n/, "\n", $2)
        printf "%c%s", 48 + FNR % 3, $2 > path
        close(path)
    }' "$file"
done
