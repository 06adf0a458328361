#!/usr/bin/env bash
# Format, vet and staticcheck.
set -euo pipefail
cd "$(dirname "$0")/.."
go=${GO:-go}
mkdir -p build
echo "format, vet, staticcheck, other systems"
bad=$(gofmt -l $(git ls-files '*.go'))
[ -z "$bad" ] || { echo "$bad"; echo "run gofmt -w"; exit 1; }
$go vet -tags outside ./... # those without the tag are among them
$go vet -C tools ./...
$go tool -modfile=tools/go.mod staticcheck -tags outside ./...
# The code for files differs between systems.
$go build -C tools -o ../build/foreign ./foreign
build/foreign ./internal/app ./internal/cli
