# Two commands do everything on a machine with Go, Node and Debian's apt:
#   go run ./cmd/fettle demo
#   make test

GO ?= go
SHELL := /bin/bash

.PHONY: test setup lint unit outside race fuzz campaign bench build generate sizes

test: setup lint unit race outside

# What the tests need beside Go: SciPy recomputes the fit, CGAL the distances along
# the surface, GLPK and CBC the routes; Chromium prints the report and poppler reads
# the pages. Nothing is installed when all is there.
setup:
	@scripts/setup.sh

lint:
	@test -z "$$(gofmt -l $$(git ls-files '*.go'))" || { gofmt -l $$(git ls-files '*.go'); echo "run gofmt -w"; exit 1; }
	$(GO) vet ./...
	$(GO) vet -tags outside ./...
	$(GO) tool -modfile=tools/go.mod staticcheck ./...

unit:
	$(GO) test -shuffle=on ./...

# The packages that could start a goroutine; cli, app and report start none and
# draw the whole casting many times.
race:
	$(GO) test -race -short $$($(GO) list ./internal/... | grep -v -e /cli$$ -e /app$$ -e /report$$)

# Against things outside the project: SciPy, Chromium, the real binary.
outside:
	$(GO) test -tags outside -count=1 -run 'Outside' ./...

# Every fuzz target for a short while; FUZZTIME=10m for a long one.
FUZZTIME ?= 10s
fuzz:
	@scripts/fuzz.sh $(FUZZTIME)

# The statistical campaign of the measuring engine: minutes; RUNS for each kind of
# case. Its table stands in docs/methods/measure.md.
RUNS ?= 100
campaign: setup
	FETTLE_PYTHON=/usr/bin/python3 FETTLE_CAMPAIGN=$(RUNS) $(GO) test -run Campaign -v -timeout 60m ./internal/measure/

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./internal/...

build:
	CGO_ENABLED=0 $(GO) build -trimpath -ldflags '-s -w -buildid=' -o build/fettle ./cmd/fettle

# Files that are made from others and kept in the repository.
generate:
	$(GO) generate ./...

# Sizes of functions and files, to be looked at.
sizes:
	@scripts/sizes.sh
