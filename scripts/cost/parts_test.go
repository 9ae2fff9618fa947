package cost

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"halocue/audio/device/devicetest"
)

// samplesPerSecond is how often the kernel looks at what a processor does.
const samplesPerSecond = 999

// parts are what the processor's time is spent on, in the table's order.
var parts = []string{"decode", "grey", "ring", "coach", "voice", "sound", "kernel", "Go's runtime", "the rest"}

// partOf are the parts by what a sample's innermost frames name: a shared library, or a
// function's package. The first that fits counts.
var partOf = []struct{ of, part string }{
	{"libjpeg", "decode"}, {"halo_grey", "grey"}, {"halocue/vision/camera", "decode"},
	{"halocue/vision/ring", "ring"}, {"halocue/vision/robust", "ring"}, {"halocue/vision/spikes", "ring"}, {"halocue/vision/peephole", "ring"},
	{"halocue/internal/coach", "coach"}, {"halocue/internal/estimate", "coach"}, {"halocue/internal/hands", "coach"}, {"halocue/internal/observe", "coach"},
	{"halocue/prompts", "voice"}, {"libsoxr", "voice"},
	{"libportaudio", "sound"}, {"libasound", "sound"}, {"libpulse", "sound"}, {"halocue/audio", "sound"}, {"portaudio", "sound"},
	{"halocue/", "the rest"}, {"main.", "the rest"},
}

// BenchmarkParts prints where the processor's time of a night goes, seconds by part, as
// Linux's perf samples it, for each program that -halocue names, by commas: with a voice,
// and with sound to a server, once for the first night and once for the second.
//
//	go test -run XXX -bench Parts -benchtime 1x ./scripts/cost -halocue BEFORE,AFTER
func BenchmarkParts(b *testing.B) {
	if *halocue == "" {
		b.Skip("-halocue names the program")
	}
	dir := b.TempDir()
	pictures := draw(b, filepath.Join(dir, "night.mjpeg"))
	room, err := os.MkdirTemp("", "ear") // a socket's path is short
	if err != nil {
		b.Fatal(err)
	}
	defer os.RemoveAll(room)
	server, err := devicetest.Start(room)
	if err != nil {
		b.Fatal(err)
	}
	defer server.Kill()
	fmt.Printf("%-14s", "")
	for _, p := range parts {
		fmt.Printf("%13s", p)
	}
	fmt.Printf("%13s\n", "all")
	for i, program := range strings.Split(*halocue, ",") {
		home := filepath.Join(dir, fmt.Sprint("home", i))
		if err := os.Mkdir(home, 0o700); err != nil {
			b.Fatal(err)
		}
		for _, name := range []string{"first night", "second night"} {
			data := filepath.Join(dir, "perf.data")
			command := []string{"perf", "record", "-q", "-g", "-e", "cpu-clock", "-F", fmt.Sprint(samplesPerSecond), "-o", data, program, "collimate"}
			if _, err := run(command, home, pictures); err != nil {
				b.Fatalf("%s: %v", name, err)
			}
			seconds, err := byPart(data)
			if err != nil {
				b.Fatal(err)
			}
			fmt.Printf("%-14s", name)
			all := 0.0
			for _, p := range parts {
				fmt.Printf("%13.2f", seconds[p])
				all += seconds[p]
			}
			fmt.Printf("%13.2f\n", all)
		}
	}
}

// byPart adds up perf's samples, s.
func byPart(data string) (map[string]float64, error) {
	cmd := exec.Command("perf", "script", "-i", data, "-F", "comm,ip,sym,dso")
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		return nil, fmt.Errorf("read perf's samples: %w; install the package linux-perf", err)
	}
	seconds := map[string]float64{}
	var sample []string
	lines := bufio.NewScanner(out)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		if line := lines.Text(); line != "" {
			sample = append(sample, line)
			continue
		}
		if len(sample) > 0 {
			seconds[part(sample[0], sample[1:])] += 1.0 / samplesPerSecond
		}
		sample = nil
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("read perf's samples: %w", err)
	}
	return seconds, cmd.Wait()
}

// part is what a sample belongs to: the program's name, and its frames, innermost first.
func part(program string, frames []string) string {
	if !strings.HasPrefix(strings.TrimSpace(program), "halocue") && !strings.HasPrefix(strings.TrimSpace(program), "perf") {
		return "voice" // an engine that halocue started
	}
	if len(frames) > 0 && strings.Contains(frames[0], "[kernel") {
		return "kernel"
	}
	for _, f := range frames {
		if i := slices.IndexFunc(partOf, func(p struct{ of, part string }) bool { return strings.Contains(f, p.of) }); i >= 0 {
			return partOf[i].part
		}
	}
	if slices.ContainsFunc(frames, func(f string) bool { return strings.Contains(f, "runtime.") }) {
		return "Go's runtime"
	}
	return "the rest"
}
