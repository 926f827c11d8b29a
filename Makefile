# The two commands that matter: make run plays, make test checks everything.
# Each installs the Debian packages that it lacks.

SHELL := /bin/bash
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
DRILL ?= run-five-lower

# Building needs a C compiler for the HID library; tests compare with scipy.
BUILD_PACKAGES := gcc libc6-dev
TEST_PACKAGES := $(BUILD_PACKAGES) python3-scipy

# Open data of people's timing, where it lies beside this tree.
DATA := $(abspath $(wildcard ../shared/data))
export HEELTOE_DATA ?= $(DATA)

FUZZTIME ?= 4s
TREES := $(wildcard cmd input trainer judge footing render)

.PHONY: run build test check fuzz measure packages-build packages-test clean

run: build
	./bin/heeltoe live $(DRILL)

build: packages-build
	go build -o bin/ ./cmd/...

test: packages-test check
	HEELTOE_STRICT=1 go test -race ./...
	$(MAKE) fuzz

check:
	@out=$$(gofmt -l $(TREES)); [ -z "$$out" ] || { echo "not formatted:"; echo "$$out"; exit 1; }
	go vet ./...
	go tool staticcheck ./...

# Each fuzz target for a short while; longer with make fuzz FUZZTIME=10m.
fuzz:
	@set -e; grep -rlE '^func Fuzz' --include='*_test.go' $(TREES) | sort | while read -r file; do \
	  for target in $$(sed -nE 's/^func (Fuzz[A-Za-z0-9_]*)\(.*/\1/p' "$$file"); do \
	    echo "fuzz $$target in $$(dirname "$$file")"; \
	    go test -run '^$$' -fuzz "^$$target\$$" -fuzztime $(FUZZTIME) "./$$(dirname "$$file")"; \
	  done; \
	done

# Long measurements and benchmarks, each with the figure it must reach in its comment.
measure: packages-test
	HEELTOE_MEASURE=1 go test -p 1 -run '^TestMeasure' -v -count 1 -timeout 60m ./...
	go test -p 1 -run '^$$' -bench . -benchmem -timeout 60m ./...

packages-build:
	@$(call install,$(BUILD_PACKAGES))

packages-test:
	@$(call install,$(TEST_PACKAGES))

# Installs those Debian packages of a list that are not there.
define install
command -v go >/dev/null || { echo "Go is missing: install Go 1.26 or later first"; exit 3; }; \
if command -v dpkg-query >/dev/null; then \
  lack=""; \
  for p in $(1); do [ "$$(dpkg-query -W -f='$${db:Status-Status}' $$p 2>/dev/null)" = installed ] || lack="$$lack $$p"; done; \
  if [ -n "$$lack" ]; then \
    echo "installing$$lack"; \
    $(SUDO) apt-get update -q >/dev/null && $(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $$lack >/dev/null; \
  fi; \
else echo "not a Debian system: these must be there: $(1)"; fi
endef

clean:
	rm -rf bin
