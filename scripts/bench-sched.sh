#!/bin/sh
# How near the schedules come to published optima, and how many are proven, on one
# core. With a folder of further instances (rcpsp/data_psplib/j30 of the repository
# MiniZinc/minizinc-benchmarks) it runs all of them too.
set -eu
cd "$(dirname "$0")/.."
GOMAXPROCS=1 go test ./internal/sched -timeout 6h -run '^$' -bench J30 -benchtime 1x
if [ $# -gt 0 ]; then
	FETTLE_J30="$(cd "$1" && pwd)" GOMAXPROCS=1 go test ./internal/sched -count 1 -run TestFolderOfJ30 -v -timeout 60m | grep instances
fi
