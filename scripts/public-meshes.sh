#!/usr/bin/env bash
# Brings public meshes for checks and comparisons into the ignored folder build/meshes,
# as PLY: scans and machine parts out of Debian's package libcgal-demo (5.5, licence of
# the package GPL-3+ and LGPL-3+; some of the meshes are of older public collections).
# The package is fetched and not installed, and nothing of it is kept in the repository.
set -euo pipefail
cd "$(dirname "$0")/.."
names='anchor_dense armadillo blade bunny00 cheese couplingdown cylinder_locally_refined fandisk fandisk_large
handle man mech-holes-shark pinion refined_elephant rotor_small turbine'
[ ! -d build/meshes ] || exit 0
mkdir -p build
work=$(mktemp -d build/meshes-XXXXXX)
trap 'rm -rf "$work"' EXIT
(cd "$work" && apt-get download -qq libcgal-demo 2>/dev/null && dpkg-deb -x libcgal-demo_*.deb .)
tar -xzf "$work"/usr/share/doc/libcgal-dev/data.tar.gz -C "$work"
mkdir "$work/ply"
for name in $names; do
  # OFF is PLY with another head: counts, points, triangles (what follows a triangle is left out).
  tr -d '\r' <"$work/data/meshes/$name.off" | awk '
    /^ *(#|$)/ || NR == 1 { next }
    !points { points = $1; left = $2
      print "ply\nformat ascii 1.0\nelement vertex " points "\nproperty double x\nproperty double y\nproperty double z"
      print "element face " left "\nproperty list uchar int vertex_indices\nend_header"; next }
    at++ < points { print $1, $2, $3; next }
    $1 != 3 { exit 1 }
    left-- > 0 { print $1, $2, $3, $4 }' >"$work/ply/$name.ply"
done
mv "$work/ply" build/meshes
