#!/usr/bin/env bash
# A journal on a disk that is really full: a file system of one megabyte in memory, filled to the last byte. Nothing that
# was acknowledged is lost, what cannot be kept is said to be so, and with room again the job goes on.
#
# usage: full_disk.sh PROBEWRIGHT FOLDER   (the folder is made and mounted on; that takes root or sudo)
set -uo pipefail
program=$1 folder=$2
as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo -n "$@"; fi; }
mkdir -p "$folder"
as_root mount -t tmpfs -o size=1m,mode=1777 tmpfs "$folder" || { echo "NOT: a file system cannot be mounted here"; exit 1; }
trap 'as_root umount "$folder"' EXIT
journal=$folder/journal.db
export PROBEWRIGHT_JOURNAL=$journal
"$program" job new machines/curlew.toml --name full >/dev/null || exit 1
kept=0 refused=0
note() { "$program" job note full "$1" >"$folder.out" 2>&1; }
for number in $(seq 1 40); do note "remark $number" && kept=$((kept + 1)); done
# The rest of the disk is taken by something else.
dd if=/dev/zero of="$folder/other" bs=1k 2>/dev/null
for number in $(seq 41 80); do
    if note "remark $number with some words behind it so that a page is filled before long, and then the next one"; then
        kept=$((kept + 1))
    else
        refused=$((refused + 1)) code=$? said=$(cat "$folder.out")
    fi
done
there() { "$program" job show full --json | grep -c '"entry":"note"'; }
echo "full disk: $kept remarks acknowledged, $refused refused; there are $(there)"
echo "said: $said"
[ "$refused" -gt 0 ] || { echo "NOT: nothing was refused"; exit 1; }
[ "$(there)" = "$kept" ] || { echo "NOT: what was acknowledged is not what is there"; exit 1; }
grep -qi "full\|no space\|room" <<<"$said" || { echo "NOT: it is not said that the disk is full"; exit 1; }
rm "$folder/other"
note "room again" && [ "$(there)" = $((kept + 1)) ] || { echo "NOT: with room again the job does not go on"; exit 1; }
"$program" job export full | grep -c '"entry":"note"' | grep -qx $((kept + 1)) || { echo "NOT: the export has another number"; exit 1; }
