#!/usr/bin/env bash
# Runs every test there is, or the parts that are named: plain, race, outside, whole. Only
# Go is needed; checks against other programs that are not on this machine are left
# out and named, unless FETTLE_ALL is set, when anything that is missing fails.
# FETTLE_SLOWEST=10 prints the ten slowest tests.
set -euo pipefail
cd "$(dirname "$0")/.."
go=${GO:-go}
began=$SECONDS
mkdir -p build
rm -f build/tests.tsv
scripts/setup.sh
scripts/lint.sh
$go build -C tools -o ../build/tally ./tally

# Load must never fail a test: the time for a package is generous. Tests make much that
# lives shortly: with a quarter of the collections they take a quarter less processor
# time. lint.sh has vetted them all, with more checks than the test runner does.
run() { GOGC=${GOGC:-400} $go test -json -vet=off -timeout 6h "$@" | build/tally -log build/tests.tsv; }

plain() {
  echo "tests"
  run -shuffle=on ./...
}

# The race detector: the tests that share something between goroutines, in the
# packages that start any. None of them writes a workbook: without the library that does,
# little more than half as much is compiled for the detector.
race() {
  if [ "$($go env CGO_ENABLED)" = 1 ] && command -v "$($go env CC)" >/dev/null; then
    echo "race detector"
    printf '{"Replace":{"%s":"%s"}}\n' "$PWD/internal/format/workbook.go" "$PWD/testdata/plainsheet.go" >build/overlay.json
    run -race -overlay build/overlay.json -short -run '^(TestSurfaceIsSharedByGoroutines|TestVehicleIsSharedByGoroutines|TestVehicleFilledAtOnceSaysTheSame|TestJobsOfOneBodyAtOnce|TestSampleIsSharedByGoroutines|TestAskedIsBounded|TestKnownSolutionsAreTheSame|TestPutMeetsSweep|TestTurns|TestAFloodIsRefusedAndOthersServed|TestStreamsHoldNoTurn|TestStreamsTellWhatMoved|TestStopFinishesWhatRuns)$' ./internal/sched ./internal/mesh ./internal/vehicle ./internal/inspect ./internal/app ./internal/demo/casting ./internal/store/blobs ./internal/web
  else
    printf 'C compiler (race detector)\tnone\n' >>build/absent
  fi
}

# Against things outside the project.
outside() {
  echo "outside checks"
  against -run Outside $(git grep -lE 'func TestOutside' -- '*_test.go' | xargs -n1 dirname | sort -u | sed 's,^,./,')
}

# The plain tests and the outside checks in one go: each package is linked and started once.
whole() {
  echo "tests and outside checks"
  against -shuffle=on ./...
}

# against runs tests with what is there of the other programs.
against() {
  local skip=""
  [ ! -s build/absent ] || skip=$(cut -f2 build/absent | sort -u | paste -sd'|' -)
  run -tags outside -count=1 ${skip:+-skip "^($skip)$"} "$@"
}

for part in ${*:-whole race}; do
  $part
done

build/tally -log build/tests.tsv -sum "${FETTLE_SLOWEST:-0}" >build/sum
sed '$d' build/sum
left=""
[ ! -s build/absent ] || left="; left out, because they are not on this machine: checks with $(cut -f1 build/absent | sort -u | paste -sd, - | sed 's/,/, /g')"
echo "all is well: $(tail -n 1 build/sum) in $((SECONDS - began)) s$left"
