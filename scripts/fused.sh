#!/usr/bin/env bash
# Lists every fused multiply-add that the compiler makes of our own Go code and that can
# change a last bit, with file and line: fused.sh [arm64|amd64]. There should be none.
# TestNoProductIsFused finds most of them without the compiler; this one also finds what
# goes from one function into a sum in another. Left out are lines with a product with a
# power of two, which is exact (x/2 + y), and explicit ones (math.FMA). For amd64 the
# level is v3, the first that fuses.
set -euo pipefail
cd "$(dirname "$0")/.."
arch=${1:-arm64}
case $arch in
arm64) fused='[^A-Z]FN?M(ADD|SUB)[DS]' ;;
amd64) fused='VFN?M(ADD|SUB)' ;;
*) echo "fused.sh: $arch: give arm64 or amd64" >&2; exit 2 ;;
esac
exact='/ ?[248]\b|\b(2|4|8|0\.5) ?\*|\* ?(2|4|8|0\.5|0x1p-?[0-9]+)\b|math\.(FMA|Nextafter)'
GOARCH=$arch GOAMD64=v3 go build -gcflags=fettle/...=-S ./internal/... 2>&1 |
	{ grep -E "$fused" || true; } | sed -E "s,.*\(([^)]*\.go:[0-9]+)\).*,\1,; s,^$PWD/,," | sort -u |
	while IFS=: read -r file line; do
		sed -n "${line}p" "$file" | grep -qE "$exact" || echo "$file:$line: $(sed -n "${line}s/^[[:space:]]*//p" "$file")"
	done
