# make demo and make test are all that anyone needs; each installs what it lacks.

# The one place for the build tags: without them gocv does not build against
# Debian's OpenCV.
TAGS := gocv_specific_modules,gocv_videoio
export GOFLAGS := -tags=$(TAGS) -buildvcs=false
export PKG_CONFIG_PATH := $(CURDIR)/scripts/pkgconfig:$(PKG_CONFIG_PATH)

GO := scripts/go
VERSION := $(shell git describe --tags --always --dirty 2>/dev/null)
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.6.1
NFPM := github.com/goreleaser/nfpm/v2/cmd/nfpm@v2.43.0

# Debian packages: to build and run, and more to test. gocv includes the header of
# each main part of OpenCV, but links four of them.
OPENCV := core calib3d features2d dnn flann highgui imgcodecs imgproc ml objdetect photo stitching video videoio
PACKAGES := gcc g++ pkg-config ca-certificates $(OPENCV:%=libopencv-%-dev) libjpeg62-turbo-dev \
	libcfitsio-dev portaudio19-dev libasound2-dev libasound2-plugins espeak-ng
TEST_PACKAGES := ffmpeg sox flite speech-dispatcher speech-dispatcher-espeak-ng pulseaudio pulseaudio-utils \
	pocketsphinx pocketsphinx-en-us aubio-tools libaubio-dev \
	gstreamer1.0-tools gstreamer1.0-plugins-base gstreamer1.0-plugins-good indi-bin

# What reasons, and builds without C.
PURE := ./config/... ./internal/... ./vision/ring/...

.PHONY: help deps deps-build build demo test bench lint fuzz instructions pictures accessibility nights ear observer soak arm64 deb clean

help:
	@echo "demo: hear a night on the virtual telescope"
	@echo "test: run every test"
	@echo "build: leave bin/halocue"
	@echo "lint: gofmt, vet, staticcheck"
	@echo "bench: the benchmarks"
	@echo "deps: install the Debian packages that are missing"
	@echo "fuzz: every fuzz test for a minute each"
	@echo "instructions: what one frame costs, against a Raspberry Pi 4"
	@echo "nights: two thousand nights without pixels: table and plot in out"
	@echo "ear: one night in real time, guided by ear through a sound server"
	@echo "observer: nights before an outside observer that shares no code"
	@echo "soak: eight hours of nights full of faults, in a quarter of an hour or so"
	@echo "arm64: its package, a night and the tests under qemu in an unpacked Debian (as root)"
	@echo "pictures: draw the pictures of README.md again"
	@echo "deb: build the Debian package into out"
	@echo "accessibility: have a browser check the report of a night"

deps:
	@scripts/deps $(PACKAGES) $(TEST_PACKAGES)

deps-build:
	@scripts/deps $(PACKAGES)

build: deps-build
	$(GO) build -ldflags '-X main.release=$(VERSION)' -o bin/ ./cmd/halocue

demo: build
	bin/halocue demo

test: deps
	$(GO) test -race -short $(PURE)
	$(GO) test ./...

bench: deps
	$(GO) test -run '^$$' -bench . -benchmem ./...

lint: deps
	@unformatted=$$("$$($(GO) env GOROOT)/bin/gofmt" -l $$(git ls-files '*.go')); \
	if [ -n "$$unformatted" ]; then echo "run gofmt -w on: $$unformatted"; exit 1; fi
	$(GO) vet ./...
	$(GO) run $(STATICCHECK) ./...

fuzz: deps
	scripts/fuzz $(GO)

# Instructions of one frame against a Raspberry Pi 4.
instructions: deps-build
	@scripts/deps valgrind
	scripts/instructions $(GO)

# The pictures of README.md.
pictures: deps-build
	$(GO) run ./docs/pictures docs

nights: deps-build
	$(GO) run ./cmd/nights -out out

# Two to five minutes. It prints what was said, and what was heard.
ear: deps
	$(GO) test -run '^$$' -bench NightByEar -benchtime 1x -v ./internal/guide/byear

# Twenty nights, some twenty minutes; any further one: see testdata/observer/README.md.
observer: build
	@for package in python3-numpy python3-pil; do scripts/deps $$package; done
	/usr/bin/python3 testdata/observer/observer.py bin/halocue --nights 20 --jobs 2

# OpenCV's matrices are counted only with the tag matprofile.
soak: deps
	$(GO) run -tags=$(TAGS),matprofile ./cmd/soak

# An hour or two, and three gigabytes. Its logs, and the root, are in out/arm64.
arm64: deps
	@scripts/deps qemu-user-static mmdebstrap g++-aarch64-linux-gnu dpkg-dev
	scripts/arm64 $(GO) $(VERSION) $(NFPM) $(PACKAGES) $(TEST_PACKAGES)

# The report of a night under an accessibility checker in a real browser.
accessibility: build
	@for tool in chromium npm; do command -v $$tool >/dev/null || scripts/deps $$tool; done
	mkdir -p out
	bin/halocue guide --camera virtual:1 --clock frames --sound none --journal out/journal.db
	bin/halocue report --journal out/journal.db --output out/night.html
	scripts/accessibility out/night.html

# For the Debian release and architecture that it is built on.
deb: deps-build
	@scripts/deps dpkg-dev
	scripts/deb $(GO) $(VERSION) $(NFPM)

clean:
	rm -rf bin out
