#!/usr/bin/env bash
# Runs every fuzz target of the repository for the given time.
set -euo pipefail
time=${1:-10s}
for file in $(git ls-files '*_test.go' | xargs grep -l '^func Fuzz' | grep -v testdata); do
  pkg=./$(dirname "$file")
  for target in $(grep -o '^func Fuzz[A-Za-z0-9_]*' "$file" | awk '{print $2}'); do
    echo "$pkg $target"
    go test "$pkg" -timeout 0 -run '^$' -fuzz "^$target\$" -fuzztime "$time" -fuzzminimizetime 5x # a short run is spent on new inputs
  done
done
