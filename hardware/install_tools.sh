#!/bin/bash
# Put the programs that draw and check hardware/ on a Debian machine: OpenSCAD, ngspice, a display for its
# pictures, and KiCad 9. Bookworm has KiCad 9 in its backports only, so those are added from the very
# mirror the machine uses. Run as root; what is there is left alone.
set -euo pipefail

need=()
command -v openscad >/dev/null || need+=(openscad)
command -v ngspice >/dev/null || need+=(ngspice)
command -v xvfb-run >/dev/null || need+=(xvfb xauth libgl1-mesa-dri)
if ((${#need[@]})); then
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${need[@]}"
fi

if ! command -v kicad-cli >/dev/null || [ ! -d /usr/share/kicad/symbols ]; then
    release=()
    . /etc/os-release
    if [ "${VERSION_CODENAME:-}" = bookworm ]; then
        sources=/etc/apt/sources.list.d/debian.sources
        [ -f "$sources" ] || { echo "no $sources: add bookworm-backports by hand" >&2; exit 1; }
        awk 'BEGIN { RS = ""; ORS = "\n\n" } NR == 1' "$sources" |
            sed 's/^Suites:.*/Suites: bookworm-backports/' >/etc/apt/sources.list.d/kicad-backports.sources
        release=(-t bookworm-backports)
    fi
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${release[@]}" kicad kicad-symbols
fi
kicad-cli version
