#!/usr/bin/env bash
# Lists every fused multiply-add that the compiler makes of our own Go code, with file
# and line, the most first: fused.sh [arm64|amd64]. A product that is added is written
# float64(x*y) + z where something printed follows, so that every machine gives the
# same bytes; a line listed here is one that does not (or an explicit math.FMA).
# For amd64 the level is v3, the first that fuses.
set -euo pipefail
cd "$(dirname "$0")/.."
arch=${1:-arm64}
case $arch in
arm64) fused='[^A-Z]FN?M(ADD|SUB)[DS]' ;;
amd64) fused='VFN?M(ADD|SUB)' ;;
*) echo "fused.sh: $arch: give arm64 or amd64" >&2; exit 2 ;;
esac
GOARCH=$arch GOAMD64=v3 go build -gcflags=fettle/...=-S ./internal/... 2>&1 |
	{ grep -E "$fused" || true; } | sed -E "s,.*\(([^)]*\.go:[0-9]+)\).*,\1,; s,^$PWD/,," | sort | uniq -c | sort -rn
