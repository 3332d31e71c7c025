#!/bin/bash
# Make a bundle for a device without network: program, units, docs and every wheel that it needs.
#
#   bash systemd/bundle.sh OUTDIR [PYTHON [MACHINE]]
#
# PYTHON: 3.11 (Bookworm, default) or 3.13 (Trixie). MACHINE: aarch64 (a Pi, default) or x86_64.
# Gives OUTDIR/wetside-VERSION-pyNN-MACHINE.tar.gz. On the device:
#
#   tar xf wetside-*.tar.gz && sudo bash wetside/systemd/install.sh
set -euo pipefail
[ $# -ge 1 ] || { sed -n '2,9s/^# \{0,1\}//p' "${BASH_SOURCE[0]}"; exit 2; }

here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
project=$(dirname "$here")
out=$1 version=${2:-3.11} machine=${3:-aarch64} python=${WETSIDE_PYTHON:-python3}
mkdir -p "$out"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

"$python" -m venv "$work/venv"
pip=("$work/venv/bin/pip" --disable-pip-version-check)
"${pip[@]}" install -q --upgrade pip
tree=$work/wetside
mkdir -p "$tree/wheels"
"${pip[@]}" wheel -q --no-deps --wheel-dir "$tree/wheels" "$project"
wheel=$(printf '%s\n' "$tree"/wheels/wetside-*.whl)

# manylinux tags from new to old: pip takes a wheel that carries any of them
platforms=()
for glibc in 36 35 34 31 28 27 26 24 17; do platforms+=(--platform "manylinux_2_${glibc}_$machine"); done
platforms+=(--platform "manylinux2014_$machine" --platform "linux_$machine")
"${pip[@]}" download -q --dest "$tree/wheels" --only-binary=:all: --python-version "$version" \
    --implementation cp "${platforms[@]}" "$wheel"

cp -r "$here" "$project/docs" "$project/README.md" "$project/LICENSE" "$tree/"
find "$tree" -name __pycache__ -prune -exec rm -rf {} +
name=$(basename "$wheel") name=${name%%-py3*}
file=$out/$name-py${version/./}-$machine.tar.gz
tar -C "$work" -czf "$file" wetside
printf '%s\n' "$file"
