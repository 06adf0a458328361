# Two commands do everything on a machine with Go, Node and Debian's apt:
#   go run ./cmd/fettle demo
#   make test

GO ?= go
SHELL := /bin/bash

.PHONY: test race outside setup lint unit fuzz campaign faults load mutants bench build generate sizes

# Everything; only Go is needed. What else the checks use is installed from Debian's
# packages where that is allowed (SciPy recomputes the fit, CGAL the distances along
# the surface, GLPK and CBC the routes; Chromium prints the report, poppler reads the
# pages), and left out and named where it is not.
test:
	@scripts/test.sh

# A part of it: the race detector, or the checks against other programs.
race outside:
	@scripts/test.sh $@

# Nothing is installed when all is there.
setup:
	@scripts/setup.sh

lint:
	@scripts/lint.sh

unit:
	GOGC=400 $(GO) test -shuffle=on -timeout 6h ./...

# Every fuzz target for a short while; FUZZTIME=10m for a long one.
FUZZTIME ?= 10s
fuzz:
	@scripts/fuzz.sh $(FUZZTIME)

# The statistical campaign of the measuring engine: minutes; RUNS for each kind of
# case. Its table stands in docs/methods/measure.md. Then 12,500 cracks on five surfaces
# and 26,000 on a sheet (docs/methods/crack-length.md), and 5,000 jobs decided twice: by
# the program and by a second evaluator, the laws with more draws, and untidy reality judged by
# a second program. The same bytes are asked of amd64 v3 too.
RUNS ?= 100
FAMILYRUNS ?= 600
campaign: setup
	FETTLE_DRAWS=all $(GO) test -timeout 60m ./internal/measure/ ./internal/choose/ ./internal/compare/ ./internal/sched/
	FETTLE_FAMILIES=$(FAMILYRUNS) $(GO) test -run 'CampaignFamilies|SearchFinds' -v -timeout 120m ./internal/measure/ ./internal/geom/
	FETTLE_PYTHON=/usr/bin/python3 FETTLE_CAMPAIGN=$(RUNS) $(GO) test -run Campaign -v -timeout 60m ./internal/measure/
	FETTLE_CAMPAIGN=1 $(GO) test -run 'TestBoresOfAllKinds|TestHolesAsCast' -v -timeout 60m ./internal/body/
	FETTLE_ORACLE=5000 $(GO) test -v -timeout 60m ./internal/decide/ ./internal/revise/ ./internal/release/
	FETTLE_CAMPAIGN=1 $(GO) test -v -timeout 180m ./internal/inspect/
	FETTLE_CAMPAIGN=1 $(GO) test -v -timeout 60m ./internal/mesh/ ./internal/plan/ ./internal/rule/
	FETTLE_CAMPAIGN=1 $(GO) test -run 'Untidy|AtOnce' -v -timeout 60m ./internal/app/
	FETTLE_UPLOADS=200 $(GO) test -run Uploads -v -timeout 60m ./internal/store/
	FETTLE_EDITORS=1000 FETTLE_CROWD=60 $(GO) test -run 'Editors|Crowd|People|Turns' -v -timeout 60m ./internal/store/database/
	FETTLE_CAMPAIGN=1 $(GO) test -tags outside -run TestOutsideSameBytes -v -timeout 60m .

# What the store promises, tried often (docs/store.md, "Tried"): programs that are killed, calls of the system that fail,
# cut power, requests that are malformed (docs/server.md), orders of puts and sweeps, rows and files that are altered (of rows 10,000), backups that are. FAULTS is how often: 2100 is the whole of it.
FAULTS ?= 2100
faults:
	FETTLE_FAULTS=$(FAULTS) FETTLE_TAMPERS=10000 $(GO) test -run 'Killed|Faults|PowerCuts|Meets|TestVerify|WasAltered' -v -timeout 120m ./internal/store/...
	FETTLE_FAULTS=1000 $(GO) test -run Malformed -v -timeout 60m ./internal/load/

# What the server promises, tried often (docs/server.md): 200 stops under load, 1,000 slow clients, 10,000 streams,
# 34 classes of what is no request, 1,000 of each, a start with 10,000 jobs, each route for everybody; and three servers, 40 shops, 200 people,
# 100,000 jobs, while servers and the database are killed ("Under load"). LOAD is how many thousand jobs; all else is whole.
LOAD ?= 100
load:
	FETTLE_PERMISSIONS=all $(GO) test -run 'EveryRouteForEverybody|ExistenceIsNotTold|NoFieldSlipsIn|WhatIsTaken' -v -timeout 30m ./internal/web/api/
	FETTLE_STOPS=200 FETTLE_SLOW=1000 FETTLE_STREAMS=10000 FETTLE_JOBS=10000 FETTLE_MALFORMED=1000 $(GO) test -run 'StopFinishes|SlowClients|ManyStreams|Malformed|ReadySoon' -v -timeout 60m ./internal/web/ ./internal/cli/
	FETTLE_LOAD=$(LOAD) $(GO) test -run 'Load|Speed|UnderAttack' -v -timeout 120m -count=1 ./internal/load/

# What the tests are worth: MUTANTS small changes of the program, one at a time, each before
# those tests of its package that come to it. Less than an hour; what survives is listed. A
# run that was stopped goes on with MUTANTSFLAGS=-resume.
MUTANTS ?= 200
mutants:
	$(GO) run -C tools ./mutants -n $(MUTANTS) $(MUTANTSFLAGS) -list $(CURDIR)/build/mutants.tsv

bench:
	$(GO) test -run '^$$' -bench . -benchmem -timeout 6h ./internal/...

build:
	CGO_ENABLED=0 $(GO) build -trimpath -ldflags '-s -w -buildid=' -o build/fettle ./cmd/fettle

# Files that are made from others and kept in the repository.
generate:
	$(GO) generate ./...

# Sizes of functions and files, to be looked at.
sizes:
	@scripts/sizes.sh
