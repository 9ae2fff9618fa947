# make demo and make test are enough for a start; each installs the packages it needs.

# The one place for the build tags: without them gocv does not build against
# Debian's OpenCV.
TAGS := gocv_specific_modules,gocv_videoio
export GOFLAGS := -tags=$(TAGS) -buildvcs=false
export PKG_CONFIG_PATH := $(CURDIR)/scripts/pkgconfig:$(PKG_CONFIG_PATH)

GO := scripts/go
VERSION := $(shell git describe --tags --always --dirty 2>/dev/null)
STATICCHECK_VERSION := v0.6.1
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@$(STATICCHECK_VERSION)
DEADCODE_VERSION := v0.36.0
DEADCODE := golang.org/x/tools/cmd/deadcode@$(DEADCODE_VERSION)
GOVULNCHECK_VERSION := v1.1.4
GOVULNCHECK := golang.org/x/vuln/cmd/govulncheck@$(GOVULNCHECK_VERSION)
NFPM_VERSION := v2.43.0
NFPM := github.com/goreleaser/nfpm/v2/cmd/nfpm@$(NFPM_VERSION)

# Debian packages: to build and run, and more to test. gocv includes the header of
# each main part of OpenCV, but links four of them.
OPENCV := core calib3d features2d dnn flann highgui imgcodecs imgproc ml objdetect photo stitching video videoio
PACKAGES := gcc g++ pkg-config ca-certificates $(OPENCV:%=libopencv-%-dev) libjpeg62-turbo-dev \
	libcfitsio-dev libsoxr-dev portaudio19-dev libasound2-dev libasound2-plugins espeak-ng
TEST_PACKAGES := ffmpeg sox flite speech-dispatcher speech-dispatcher-espeak-ng pulseaudio pulseaudio-utils \
	pocketsphinx pocketsphinx-en-us aubio-tools libaubio-dev \
	gstreamer1.0-tools gstreamer1.0-plugins-base gstreamer1.0-plugins-good indi-bin

# What has goroutines or locks is tested with the race detector too, but for audio/device
# and cmd/halocue: the binding of PortAudio hands a number on as a pointer, which the
# detector's compiler refuses.
# What waits longest by the clock stands first, so that others run meanwhile.
RACED := ./vision/camera ./internal/run/... ./internal/simulate/... ./internal/platform/... ./prompts/voice ./internal/record \
	./audio ./audio/buttons ./internal/journal ./vision ./vision/still/fits

# Tests that take long under the race detector and run in one goroutine, in which it finds nothing, or
# measure memory, or a process in C, or cannot be built with it. Of the packages in RACED they alone are run without it.
ALONE := AirTooBad AstigmatismMakesTheRingOval BeforeAndAfterAreKept BothWaysMeet CuesUnheard DamagedJournals \
	DewOnAGoodNight Durations EveryPersonIsWaitedFor EverySoundIsAsLoudAsTheTone FigureFollowsThroughFocus FirstDarkRing \
	FlowIsFrozen HostileHTTP HostileINDI HostileVideos InterruptedWordsDieAtOnce Killed LooksScatterAsMeasuredFramesDo \
	LoudnessReadsTheEBUTestSignals MakeRoom Memory MissedLock MotorsDoTheRest NightBeforePhotographs NightByEar \
	NightKeepsTheContract NightRepeats NightsEndTrue NightsTeach NoClicks OddTonesAreHarmless Only \
	OtherLanguagesByTranscript PitchIsHeardByAnIndependentTracker PutBack QuickFramesLeanAsExactOnes ReplayIsTheNight \
	RhythmsAreHeard SaggingFocuser SameImageAsAnIndependentProgram ScreensHaveNollsResiduals SignalGoesBeforeTheWords Sky \
	SlowAirIsNoticed SoundServerKilledAndStartedAgain SoundsAreNeverAlike SoundsEnd SpeechIsAtTheTarget SunIsDangerFirst \
	TellingEnds TenthsDoNotDrift ToneIsAtTheTarget ToneIsHonest ToneIsLevelByTheAWeighting UncertaintyBreathes \
	UntrackedNights WordOfTheOtherSide WordsOnly

.PHONY: mutate help deps deps-build build demo test test-raced test-rest test-sound prove bench lint fuzz fuzz-some vulnerabilities boot cost parts instructions instructions-arm64 pictures pages accessibility nights ear observer soak faults arm64 deb install uninstall outdated clean

help:
	@echo "demo: hear a night on the virtual telescope"
	@echo "test: run the tests, with the race detector where it applies"
	@echo "prove: the long tests, over hundreds of cases"
	@echo "build: leave bin/halocue, and bin/halocue-opencv, which it starts"
	@echo "lint: gofmt, vet, staticcheck, deadcode"
	@echo "bench: the benchmarks"
	@echo "deps: install the Debian packages that are missing"
	@echo "fuzz: every fuzz test for a minute each (fuzz-some: three of them, others every day)"
	@echo "vulnerabilities: known faults of Go, the modules and the C libraries, from stored lists"
	@echo "mutate: what the tests of some packages miss, by changes drawn at random"
	@echo "cost: what a night with a voice costs in processor time and memory, against plain decoding"
	@echo "parts: where the processor's time of a night goes, by perf"
	@echo "instructions: what one frame costs, against a Raspberry Pi 4"
	@echo "instructions-arm64: what a picture costs the whole program, in arm64 instructions under qemu (as root)"
	@echo "nights: thousands of nights without pixels, of all kinds of people: tables and plots in out"
	@echo "ear: one night in real time, guided by ear through a sound server"
	@echo "faults: the measurement on drawn frames of mirrors and cameras with faults"
	@echo "observer: nights before an outside observer that shares no code"
	@echo "soak: eight hours of nights full of faults, in a quarter of an hour or so"
	@echo "arm64: its package, a night and the tests under qemu in an unpacked Debian (as root)"
	@echo "boot: the service in a Debian that boots, from its start to its first word (as root)"
	@echo "pictures: draw the pictures of README.md again"
	@echo "deb: build the Debian package into out"
	@echo "install, uninstall: what build has made, under PREFIX (/usr/local) and DESTDIR, with manual pages and completions"
	@echo "outdated: the direct dependencies of which there is a newer version"
	@echo "accessibility: have a browser check the pages of report and history"

deps:
	@scripts/deps $(PACKAGES) $(TEST_PACKAGES)

deps-build:
	@scripts/deps $(PACKAGES)

build: deps-build
	@echo "Building: a minute or two the first time, longer on a small board."
	$(GO) build -ldflags '-X main.release=$(VERSION)' -o bin/ ./cmd/halocue ./cmd/halocue-opencv

demo: build
	bin/halocue demo

# A test whose name begins with TestProve goes through many cases: it is a proof. So
# are the cases that the fuzz tests have kept.
PROOFS := ^(TestProve|Fuzz)
empty :=
JUST_ALONE := ^Test($(subst $(empty) $(empty),|,$(ALONE)))$$

# What has goroutines waits much and the rest computes much: they run side by side, three
# packages of the one and two of the other. What is heard on a sound device must be on time,
# so that the others give way to it.
test: deps
	@$(MAKE) --no-print-directory -j 3 test-raced test-rest test-sound

test-raced:
	nice $(GO) test -timeout 20m -p 3 -race -skip '$(PROOFS)|$(JUST_ALONE)' $(RACED)
	nice $(GO) test -timeout 20m -p 3 -run '$(JUST_ALONE)' $(RACED)

SOUND := ./audio/device/...
LONGEST := ./cmd/halocue ./vision/ring
test-rest:
	nice $(GO) test -timeout 20m -p 2 -parallel 8 -skip '$(PROOFS)' $(LONGEST) $(filter-out $(shell $(GO) list $(RACED) $(SOUND)),$(shell $(GO) list ./...))

test-sound:
	$(GO) test -timeout 20m -skip '$(PROOFS)' $(SOUND)

prove: deps
	$(GO) test -timeout 40m -run '$(PROOFS)' ./...

bench: deps
	$(GO) test -run '^$$' -bench . -benchmem ./...

lint: deps
	@unformatted=$$("$$($(GO) env GOROOT)/bin/gofmt" -l $$(git ls-files '*.go')); \
	if [ -n "$$unformatted" ]; then echo "run gofmt -w on: $$unformatted"; exit 1; fi
	$(GO) vet ./...
	$(GO) run $(STATICCHECK) ./...
	scripts/deadcode $(GO) $(DEADCODE) $(TAGS)

# What a package's tests would miss: one change of its code at a time, drawn at random.
MUTATED := ./internal/optics ./vision/robust ./internal/cue ./internal/hands ./internal/estimate ./internal/coach/night ./internal/coach/day \
	./internal/sky ./internal/platescale ./internal/repeatability ./internal/report ./vision/camera/exposure
MUTATE_SEED := 1
mutate: deps
	$(GO) run ./scripts/mutate -seed $(MUTATE_SEED) -skip '$(PROOFS)' $(MUTATED)

fuzz: deps
	scripts/fuzz $(GO)

# Three of the fuzz tests, half a minute each: other ones every day.
fuzz-some: deps
	scripts/fuzz $(GO) 30s 3

# Known faults of Go, of the modules and of the C libraries, without the network.
VULNDB := out/vulndb
vulnerabilities: build
	scripts/vulnerabilities $(GO) $(GOVULNCHECK) $(VULNDB) bin/halocue bin/halocue-opencv

# What a whole night costs, against plain decoding: some three minutes.
cost: build
	@scripts/deps ffmpeg
	$(GO) test -run '^$$' -bench Nights -benchtime 1x ./scripts/cost -halocue $(CURDIR)/bin/halocue

# Where the time of two nights goes: some two minutes. BEFORE is another build, to be set beside this one.
parts: build
	@scripts/deps ffmpeg linux-perf pulseaudio pulseaudio-utils
	$(GO) test -run '^$$' -bench Parts -benchtime 1x ./scripts/cost -halocue $(BEFORE:%=%,)$(CURDIR)/bin/halocue

# The service in a Debian with systemd as its first process: from its start to its first word.
boot: deb
	@scripts/deps mmdebstrap systemd-container pulseaudio-utils
	scripts/boot

# What a picture costs the whole program, in arm64 instructions, by part: some ten minutes.
instructions-arm64: deps-build
	@scripts/deps ffmpeg qemu-user mmdebstrap gcc-aarch64-linux-gnu g++-aarch64-linux-gnu
	scripts/instructions-arm64 $(GO)

# What one frame costs, in instructions, as a share of a Raspberry Pi 4 core.
instructions: deps-build
	@scripts/deps valgrind
	scripts/instructions $(GO)

# The pictures of README.md and docs.
pictures: pages
	@for tool in chromium pngquant; do command -v $$tool >/dev/null || scripts/deps $$tool; done
	$(GO) test ./docs/pictures -update
	scripts/screenshot out/pages/night.html docs/page-light.png 860 2150 light
	scripts/screenshot out/pages/night.html docs/page-dark.png 860 880 dark
	scripts/screenshot out/pages/night-red.html docs/page-red.png 860 880 light
	scripts/screenshot out/pages/history.html docs/history.png 860 1300 light
	pngquant --force --ext .png 48 docs/page-light.png docs/page-dark.png docs/page-red.png docs/history.png

# A night, a day and a history of the virtual telescope, as report and history write them.
pages: deps-build
	$(GO) test ./docs/pictures -run XXX -bench Pages -benchtime 1x -args -out $(CURDIR)/out/pages

# What else may stand after -args: internal/simulate/nights/bench_test.go.
NIGHTS := $(GO) test ./internal/simulate/nights -timeout 2h -run XXX -bench Nights -benchtime 1x -args
nights: deps-build
	$(NIGHTS) -out $(CURDIR)/out -count 1000
	$(NIGHTS) -out $(CURDIR)/out/people -first 20001 -count 999 -person mixed
	$(NIGHTS) -out $(CURDIR)/out/untracked -first 20001 -count 300 -person practised -untracked

# Two to five minutes. It prints what was said, and what was heard.
ear: deps
	$(GO) test -run '^$$' -bench NightByEar -benchtime 1x -v ./internal/run/byear

# Twenty nights, some twenty minutes; testdata/observer/README.md has more ways to run it.
observer: build
	@for package in python3-numpy python3-pil; do scripts/deps $$package; done
	/usr/bin/python3 testdata/observer/observer.py bin/halocue --nights 20 --jobs 2

# Ten frames of each fault, some six minutes; another seed is another set.
FAULT_SEED := 2
faults: build
	@for package in python3-numpy python3-pil; do scripts/deps $$package; done
	/usr/bin/python3 testdata/faults/draw.py --seed $(FAULT_SEED) --out out/faults
	/usr/bin/python3 testdata/faults/score.py bin/halocue out/faults

soak: deps
	$(GO) test -run '^TestSoak$$' -v -timeout 4h ./internal/simulate/faults -hours 8 -seed 1 -pixels 20

# An hour or two, and three gigabytes. Its logs, and the root, are in out/arm64.
arm64: deps
	@scripts/deps qemu-user-static mmdebstrap g++-aarch64-linux-gnu dpkg-dev
	HALOCUE_LONG='$(JUST_ALONE)' scripts/arm64 $(GO) $(VERSION) $(NFPM) $(PACKAGES) $(TEST_PACKAGES)

# The pages under an accessibility checker in a real browser: light, dark and red, wide and
# narrow.
accessibility: pages
	@for tool in chromium npm; do command -v $$tool >/dev/null || scripts/deps $$tool; done
	scripts/accessibility out/pages/*.html

# For the Debian release and architecture that it is built on.
deb: deps-build
	@scripts/deps dpkg-dev
	scripts/deb $(GO) $(VERSION) $(NFPM)

# What build has made, for a computer without the package; as root it builds nothing.
PREFIX ?= /usr/local
SHARE := $(DESTDIR)$(PREFIX)/share
INSTALLED := $(DESTDIR)$(PREFIX)/bin/halocue $(DESTDIR)$(PREFIX)/libexec/halocue/halocue-opencv $(SHARE)/bash-completion/completions/halocue \
	$(SHARE)/zsh/site-functions/_halocue $(SHARE)/fish/vendor_completions.d/halocue.fish
install:
	@test -x bin/halocue || { echo "bin/halocue is not there yet: run make build first, as yourself"; exit 1; }
	@made=$$(mktemp -d) && trap 'rm -r "$$made"' EXIT && bin/halocue manual "$$made" && \
	install -D -m 755 bin/halocue $(DESTDIR)$(PREFIX)/bin/halocue && \
	install -D -m 755 bin/halocue-opencv $(DESTDIR)$(PREFIX)/libexec/halocue/halocue-opencv && \
	install -D -m 644 -t $(SHARE)/man/man1 "$$made"/*.1 && \
	install -D -m 644 "$$made"/halocue.bash $(SHARE)/bash-completion/completions/halocue && \
	install -D -m 644 "$$made"/_halocue $(SHARE)/zsh/site-functions/_halocue && \
	install -D -m 644 "$$made"/halocue.fish $(SHARE)/fish/vendor_completions.d/halocue.fish
	@echo "halocue is in $(DESTDIR)$(PREFIX)/bin"

uninstall:
	rm -f $(INSTALLED) $(SHARE)/man/man1/halocue.1 $(SHARE)/man/man1/halocue-*.1

# Once a year: DEVELOPERS.md, "Dependencies".
outdated: deps-build
	@$(GO) list -m -u -f '{{with .Update}}{{.Path}} {{$$.Version}}, there is {{.Version}}{{end}}' \
		$$($(GO) list -m -f '{{if not (or .Indirect .Main)}}{{.Path}}{{end}}' all) \
		honnef.co/go/tools@$(STATICCHECK_VERSION) golang.org/x/tools@$(DEADCODE_VERSION) github.com/goreleaser/nfpm/v2@$(NFPM_VERSION) golang.org/x/vuln@$(GOVULNCHECK_VERSION)

clean:
	rm -rf bin out
