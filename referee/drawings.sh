#!/usr/bin/env bash
# The schematics read and drawn by a second renderer (librsvg): every machine and pattern, three widths, at rest and with
# the start button held where there is such a state. A warning, a picture that is not made, or one of another size than
# the drawing says is a failure.
#
# usage: drawings.sh PROBEWRIGHT PICTURES
set -uo pipefail
program=$1 pictures=$2
mkdir -p "$pictures"
drawn=0 failed=0
for sheet in machines/*.toml machines/patterns/*.toml; do
    states=(none)
    if grep -q '^\[state\.held\]' "$sheet"; then states+=(held); fi
    for state in "${states[@]}"; do
        for width in wide narrow print; do
            file=$pictures/$(basename "$sheet" .toml)-$state-$width
            arguments=(--width "$width" --output "$file.svg")
            [ "$state" = none ] || arguments+=(--state "$state")
            "$program" draw "$sheet" "${arguments[@]}" || failed=$((failed + 1))
            rsvg-convert "$file.svg" -o "$file.png" 2>"$file.said" || { echo "NOT: $file.svg is not drawn"; failed=$((failed + 1)); }
            if [ -s "$file.said" ]; then echo "NOT: $file.svg: $(head -1 "$file.said")"; failed=$((failed + 1)); fi
            # Width and height as the picture's own head has them, against those of the drawing.
            python3 - "$file" <<'PY' || failed=$((failed + 1))
import re, struct, sys
head = open(sys.argv[1] + ".svg").read(2000)
wanted = [float(n) for n in re.search(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', head).groups()]
found = list(struct.unpack(">II", open(sys.argv[1] + ".png", "rb").read(24)[16:24]))
if any(abs(have - want) > 1 for have, want in zip(found, wanted)):
    sys.exit(f"NOT: {sys.argv[1]}: drawn as {found}, meant as {wanted}")
PY
            drawn=$((drawn + 1))
        done
    done
done
echo "$drawn schematics drawn by librsvg $(rsvg-convert --version | grep -o '[0-9.]*' | head -1), $failed with a warning or fault"
[ "$failed" = 0 ] && [ "$drawn" -gt 40 ]
