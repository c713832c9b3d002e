# Tagalong. `make run` opens the demo shop, `make test` tests everything; both bring what they need.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:

BUILD := $(CURDIR)/.build
SOURCES := $(wildcard cmd internal migrations web deploy)
# One PostgreSQL for all packages that are tested; it keeps nothing and doesn't wait for the disk.
WITH_SERVER := go run ./internal/postgres/pgtest/withserver
# What go test would have go vet look at, `make lint` looks at wholly.
TEST_FLAGS ?= -timeout 20m -vet=off
# How often `make soak` kills the server and the database, and how many random commands it gives the core.
SOAK_KILLS ?= 200
SOAK_COMMANDS ?= 1000000
# How often eight tablets act at once on a shop in the database.
SOAK_FLOOR ?= 4000
# How many races of four tablets are checked against one shop that does one thing after the other.
SOAK_RACES ?= 400
# What the random commands are drawn from; empty: from the time of day. It is printed.
SOAK_SEED ?=

.PHONY: help
help: ## list these targets
	@sed -n 's/^\([a-z-]*\):.*## \(.*\)/make \1\t\2/p' Makefile | expand -t 20

.PHONY: run
run: database build ## open the demo shop and say where to look (TAGALONG_LISTEN, TAGALONG_DATA)
	@exec "$(BUILD)/tagalong" demo

# What can be missing is missed before the build, which takes a while the first time. The program itself looks again, and
# knows the ways of systems without apt-get.
.PHONY: database
database:
	@if [ -z "$${TAGALONG_DATABASE_URL:-}" ] && command -v apt-get >/dev/null; then deploy/tools/ensure.sh postgresql; fi

.PHONY: build
build: ## build .build/tagalong
	@mkdir -p "$(BUILD)"
	go build -buildvcs=false -o "$(BUILD)/tagalong" ./cmd/tagalong

.PHONY: test
test: ## test everything, with a real database, a real browser and real decoders
	deploy/tools/ensure.sh
	$(WITH_SERVER) go test $(TEST_FLAGS) ./...

.PHONY: generate
generate: ## make the Go code of the pages from their templates
	go tool templ generate

.PHONY: lint
lint: ## gofmt, go vet, staticcheck
	@unformatted=$$(gofmt -l $(SOURCES)); \
	if [ -n "$$unformatted" ]; then echo "not formatted (run gofmt -w):"; echo "$$unformatted"; exit 1; fi
	go vet ./...
	go vet -tags pictures ./cmd/tagalong
	go tool staticcheck ./...

.PHONY: bench
bench: ## measure, with the machine's cores and the date
	deploy/tools/ensure.sh postgresql
	@echo "$$(date -u +%Y-%m-%dT%H:%MZ), $$(getconf _NPROCESSORS_ONLN) cores, $$(uname -sm), $$(go version)"
	go test -run '^$$' -bench . -benchmem -timeout 0 ./...

.PHONY: soak
soak: ## random commands past every rule (SOAK_COMMANDS), then kill server and database, under load (SOAK_KILLS)
	deploy/tools/ensure.sh postgresql
	TAGALONG_SOAK_COMMANDS=$(SOAK_COMMANDS) TAGALONG_SOAK_FLOOR=$(SOAK_FLOOR) TAGALONG_SOAK_RACES=$(SOAK_RACES) TAGALONG_SOAK_SEED=$(SOAK_SEED) $(WITH_SERVER) go test -count=1 -v -timeout 0 -run '^TestSoakThe' ./internal/core ./internal/postgres
	TAGALONG_SOAK_KILLS=$(SOAK_KILLS) go test -count=1 -v -timeout 0 -run '^TestSoakKills' ./...

.PHONY: screenshots
screenshots: ## take pictures of every screen into .build/screenshots, and the README's into web/pictures
	deploy/tools/ensure.sh
	@mkdir -p "$(BUILD)/screenshots"
	TAGALONG_SCREENSHOTS="$(BUILD)/screenshots" $(WITH_SERVER) go test -count=1 $(TEST_FLAGS) \
		$$(go list -test -f '{{if .ForTest}}{{.ForTest}} {{.Deps}}{{end}}' ./... | awk '/tagalong\/internal\/browsertest/ {print $$1}' | sort -u)
	$(WITH_SERVER) go test -count=1 $(TEST_FLAGS) -tags pictures -run '^TestTakePictures$$' ./cmd/tagalong
	@echo "See $(BUILD)/screenshots and web/pictures"

.PHONY: fresh-machine
fresh-machine: ## try `make run` and `make test` on a Debian that has nothing (root, debootstrap, time)
	deploy/tools/fresh-machine.sh

.PHONY: clean
clean: ## remove what was built; the data of the shop stays
	rm -rf "$(BUILD)"
