#!/usr/bin/env bash
# Format, vet and staticcheck.
set -euo pipefail
cd "$(dirname "$0")/.."
go=${GO:-go}
echo "format, vet, staticcheck"
bad=$(gofmt -l $(git ls-files '*.go'))
[ -z "$bad" ] || { echo "$bad"; echo "run gofmt -w"; exit 1; }
$go vet ./...
$go vet -tags outside ./...
$go vet -C tools ./tally
$go tool -modfile=tools/go.mod staticcheck ./...
