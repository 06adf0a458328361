#!/bin/sh
# Speed of internal/mesh beside general-purpose libraries, on one core, on the
# same mesh, in one run: a generated tray, and every file that is named, text PLY of
# triangles (scripts/public-meshes.sh brings some into build/meshes). Times are processor
# times, so that a busy machine changes them little. What a library that is not here
# would say is left out, with a line that says so; with BENCH_INSTALL set, and as root, the
# Debian packages are installed first.
#   scripts/bench-peers.sh [FILE.ply ...]
set -eu
files=""
for f in "$@"; do files="$files $(realpath "$f")"; done
cd "$(dirname "$0")/.."
mkdir -p build
need="g++ libcgal-dev libembree-dev libgmp-dev libmpfr-dev"
if [ -n "${BENCH_INSTALL:-}" ]; then
	apt-get update -q && apt-get install -qy --no-install-recommends $need
fi
core=$(($(nproc) - 1))
run() { taskset -c "$core" env GOMAXPROCS=1 "$@"; }
# peer NAME PACKAGE LIBRARIES: the driver bench/peers/NAME.cpp, or "left out"
peer() {
	if dpkg -s "$2" >/dev/null 2>&1; then
		g++ -O3 -march=native -std=c++17 "bench/peers/$1.cpp" -o "build/peer-$1" $3
	else
		printf '#!/bin/sh\necho "%s: left out, %s is not installed"\n' "$1" "$2" >"build/peer-$1"
		chmod +x "build/peer-$1"
	fi
}
peer query libembree-dev -lembree3
peer aabb libcgal-dev "-lgmp -lmpfr"
peer exact libcgal-dev "-lgmp -lmpfr"
go test -c -o build/peer-mesh.test ./internal/mesh
go test -c -o build/peer-format.test ./internal/format
bench() { run build/peer-mesh.test -test.run '^$' -test.bench "Peer$1" -test.benchtime "$2" | grep '^Bench'; }
run build/peer-query
run build/peer-aabb
run build/peer-exact 112
run build/peer-exact 224
bench 'Tree|NewSurface' 15x
for b in Closest Rays Walls Exact51k Exact202k ExactNear; do bench $b 3x; done
for b in ReadSTL Million; do
	run build/peer-format.test -test.run '^$' -test.bench "Peer$b" -test.benchtime 3x | grep '^Bench'
done
for file in $files; do
	echo "$file"
	run build/peer-query "$file"
	run build/peer-aabb "$file"
	run build/peer-exact "$file"
	export FETTLE_MESH="$file"
	bench 'Tree|NewSurface' 15x
	for b in Closest Rays ExactFile; do bench $b 3x; done
	unset FETTLE_MESH
done
