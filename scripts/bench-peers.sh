#!/bin/sh
# Speed of internal/mesh beside general-purpose libraries, on one core, on the
# same generated mesh, in one run. Times are processor times, so that a busy
# machine changes them little. Needs root for the Debian packages, once.
set -eu
cd "$(dirname "$0")/.."
mkdir -p build
need="g++ libcgal-dev libembree-dev libgmp-dev libmpfr-dev"
for p in $need; do
	dpkg -s "$p" >/dev/null 2>&1 || { apt-get update -q && apt-get install -qy --no-install-recommends $need; break; }
done
g++ -O3 -march=native -std=c++17 bench/peers/query.cpp -o build/peer-query -lembree3
g++ -O3 -march=native -std=c++17 bench/peers/exact.cpp -o build/peer-exact -lgmp -lmpfr
go test -c -o build/peer-mesh.test ./internal/mesh
go test -c -o build/peer-format.test ./internal/format
core=$(($(nproc) - 1))
run() { taskset -c "$core" env GOMAXPROCS=1 "$@"; }
run build/peer-query
run build/peer-exact 112
run build/peer-exact 224
for b in Tree Closest Rays Exact51k Exact202k ExactNear; do
	run build/peer-mesh.test -test.run '^$' -test.bench "Peer$b" -test.benchtime 3x | grep '^Bench'
done
for b in ReadSTL Million; do
	run build/peer-format.test -test.run '^$' -test.bench "Peer$b" -test.benchtime 3x | grep '^Bench'
done
