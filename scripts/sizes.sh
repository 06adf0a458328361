#!/usr/bin/env bash
# Prints the longest files and the share of comments and tests, by package.
set -euo pipefail
echo "longest files"
git ls-files '*.go' | xargs wc -l | sort -rn | sed -n 2,11p
echo
printf '%-28s %8s %8s %9s\n' package code tests comments
for dir in $(git ls-files '*.go' | xargs -n1 dirname | sort -u); do
  code=$(ls "$dir"/*.go | grep -v _test.go | xargs -r cat | grep -cve '^\s*$' -e '^\s*//' || true)
  tests=$(ls "$dir"/*_test.go 2>/dev/null | xargs -r cat | grep -cve '^\s*$' || true)
  comments=$(ls "$dir"/*.go | grep -v _test.go | xargs -r cat | grep -c '^\s*//' || true)
  printf '%-28s %8s %8s %9s\n' "$dir" "$code" "$tests" "$comments"
done
