#!/bin/sh
# The choice of treatments beside CBC, in one run on one core: 200 findings and 800
# treatments, and the small questions of 40 and 120. Processor time, median of five.
set -eu
cd "$(dirname "$0")/.."
FETTLE_MEDIANS=1 GOMAXPROCS=1 go test ./internal/choose -tags outside -count 1 -run TestOutsideSelections -v -timeout 30m | grep -E 'rows|median|FAIL|ok'
