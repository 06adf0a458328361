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
# The code for files differs between systems.
GOOS=windows $go vet ./internal/app ./internal/cli
GOOS=darwin $go vet ./internal/app ./internal/cli
$go vet -C tools ./tally
$go tool -modfile=tools/go.mod staticcheck ./...
