#!/bin/sh
# Routes of large jobs, 20 and 120 findings with up to three treatments each, on one core: processor
# time of one run of each of ten jobs, the least, the median and the most.
set -eu
cd "$(dirname "$0")/.."
FETTLE_DRAWS=1 GOMAXPROCS=1 go test ./internal/compare -tags outside -count 1 -run TestOutsideTimeOfLargeJobs -v -timeout 30m | grep -E 'findings|FAIL|ok'
