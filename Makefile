# The two commands that matter: make run plays, make test checks everything.
# Each installs the Debian packages that it lacks.

SHELL := /bin/bash
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
DRILL ?= run-five-lower

# Building needs a C compiler for the HID library, ALSA for the sound and X and GL
# for the window; tests compare with scipy and scikit-learn, play on a JACK server's dummy device
# and drive the window on an X server that shows nothing.
BUILD_PACKAGES := gcc libc6-dev pkg-config libasound2-dev libgl-dev libxcursor-dev libxi-dev libxinerama-dev libxrandr-dev \
	libxxf86vm-dev libgl1-mesa-dri
TEST_PACKAGES := $(BUILD_PACKAGES) python3-scipy python3-sklearn jackd2 libasound2-plugins librsvg2-bin poppler-utils xvfb xauth xdotool prometheus chromium fonts-dejavu-core
# The emulated pads boot a kernel, which is downloaded into the user's cache.
PADS_PACKAGES := gcc libc6-dev pkg-config libasound2-dev qemu-system-x86 xz-utils

# Open data of people's timing, where it lies beside this tree.
DATA := $(abspath $(wildcard ../shared/data))
export HEELTOE_DATA ?= $(DATA)

# A display for the tests of the window, of the size that they are made for.
SCREEN := xvfb-run -a -s "-screen 0 1280x720x24"

FUZZTIME ?= 4s
TREES := $(wildcard cmd input trainer judge footing render)

# Packages whose tests see time pass, on a screen, in sound, at a thousand reports a second: they have the
# machine to themselves.
ALONE := cmd/heeltoe-window render/sound trainer/desk trainer/live

# Where tests are that take long with the race detector and have no need of it, or
# that keep to a time and have to be alone on the machine.
LONG = $(sort $(patsubst %,./%,$(dir $(shell grep -rl '^func TestLong' --include='*_test.go' $(TREES)))))

.PHONY: run build test test-pads check fuzz measure packages-build packages-test packages-pads clean

run: build
	./bin/heeltoe live $(DRILL)

build: packages-build
	go build -o bin/ ./cmd/...

test: packages-test check
	HEELTOE_STRICT=1 $(SCREEN) go test -race -timeout 20m $$(go list ./... | grep -vxF "$$(printf 'heeltoe/%s\n' $(ALONE))")
	HEELTOE_STRICT=1 $(SCREEN) go test -race -p 1 -timeout 20m $(addprefix ./,$(ALONE))
	HEELTOE_STRICT=1 HEELTOE_LONG=1 go test -p 1 -run '^TestLong' $(LONG)
	HEELTOE_STRICT=1 $(MAKE) test-pads
	$(MAKE) fuzz

# Pads that do not exist, plugged into a kernel that does: prints pads × checks.
test-pads: packages-pads
	HEELTOE_PADS=1 go test -run '^TestPads$$' -v -count 1 -timeout 40m ./input/usb/bench

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
	HEELTOE_MEASURE=1 $(SCREEN) go test -p 1 -run '^TestMeasure' -v -count 1 -timeout 120m ./...
	HEELTOE_STRICT=1 HEELTOE_LONG=1 go test -race -run '^TestLong' -timeout 60m $(LONG)
	$(SCREEN) go test -p 1 -run '^$$' -bench . -benchmem -timeout 60m ./...
	$(MAKE) fuzz FUZZTIME=10m

packages-build:
	@$(call install,$(BUILD_PACKAGES))

packages-test:
	@$(call install,$(TEST_PACKAGES))

packages-pads:
	@$(call install,$(PADS_PACKAGES))

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
