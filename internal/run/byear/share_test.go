package byear

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/cue"
	"halocue/internal/simulate/telescope"
)

// share lets a program have a part of one processor, 1 ms at a time, whatever else runs,
// by a control group of Linux. A shell that writes its number into the file joins.
func share(b *testing.B, part float64) (file string) {
	b.Helper()
	const quota = "1000" // us
	period := fmt.Sprint(int(1000 / part))
	root, limits := "/sys/fs/cgroup", map[string]string{"cpu.max": quota + " " + period, "cpu.weight": "10000"}
	if _, err := os.Stat(root + "/cpu"); err == nil { // the first version
		root, limits = root+"/cpu", map[string]string{"cpu.cfs_period_us": period, "cpu.cfs_quota_us": quota, "cpu.shares": "262144"}
	}
	dir, err := os.MkdirTemp(root, "halocue")
	if err != nil {
		b.Skipf("no control group: %v; run it as root", err)
	}
	b.Cleanup(func() { os.Remove(dir) })
	for name, value := range limits {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(value), 0); err != nil {
			b.Skipf("no control group: %v; run it as root", err)
		}
	}
	return filepath.Join(dir, "cgroup.procs")
}

// said is an event of the transcript.
type said struct {
	T, At, Seconds, Turns                              float64
	Event, Action, Code, Knob, Direction, Result, Text string
	Device, State, Detail                              string
	Again, Back                                        bool
	Goal                                               []float64 `json:"goal_px"`
}

// BenchmarkNightByShare is one night of the real program with nine tenths of a processor,
// one with a fifth, and one with a twentieth, by the wall clock: pictures through a pipe, words by espeak-ng, and
// sound to a server, which are outside the share. It fails where a mirror is called true
// that is not.
//
//	go test -run XXX -bench NightByShare -benchtime 1x -v ./internal/run/byear
func BenchmarkNightByShare(b *testing.B) {
	program := filepath.Join(b.TempDir(), "halocue")
	if out, err := exec.Command("go", "build", "-o", program, "halocue/cmd/halocue").CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	for _, part := range []float64{0.9, 0.2, 0.05} {
		b.Run(fmt.Sprint(part), func(b *testing.B) {
			for b.Loop() {
				nightByShare(b, program, share(b, part))
			}
		})
	}
}

func nightByShare(b *testing.B, program, group string) {
	heard := room(b)
	go func() { _, _ = io.Copy(io.Discard, heard) }() // ends with the server
	src := telescope.NewSource(telescope.Demo(1), telescope.SourceOptions{FPS: fps, Wall: true})
	n := src.Night()
	home := b.TempDir()
	cmd := exec.CommandContext(b.Context(), "sh", "-c", `echo $$ >"$0" && exec taskset -c 0 "$@"`, group, program, "collimate", "--camera", "-", "--transcript", "-",
		"--aperture-mm", fmt.Sprint(n.Telescope.Aperture), "--focal-length-mm", fmt.Sprint(n.Telescope.FocalLength), "--pixel-um", fmt.Sprint(1000*n.Camera.Pixel))
	cmd.Env = append(os.Environ(), "HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_STATE_HOME="+home, "XDG_CACHE_HOME="+home)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		b.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		b.Fatal(err)
	}
	began := time.Now()
	go feed(b.Context(), src, in)
	var result string
	var measured, picture, decided, afterPicture, afterDecision float64 // when, and ms
	var underRuns int
	counts := map[string]float64{}
	lines := bufio.NewScanner(out)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var e said
		if err := json.Unmarshal(lines.Bytes(), &e); err != nil {
			continue
		}
		now := time.Since(began).Seconds()
		switch {
		case e.Event == "measure":
			counts["measured"]++
			measured = e.At
		case e.State == "under-run":
			_, _ = fmt.Sscan(e.Detail, &underRuns)
			b.Logf("%6.2f %s", e.T, e.Detail)
		case e.Event == "device":
			b.Logf("%6.2f %s %s", e.T, e.Device, e.State)
		case e.Event == "decide" && e.Code == "stop":
			picture, decided = e.T, measured
		case e.Event == "say":
			b.Logf("%6.2f %s", e.T, e.Text)
			counts[e.Code]++
			if e.Code == "stop" {
				afterPicture = max(afterPicture, 1000*(e.T-picture))
				afterDecision = max(afterDecision, 1000*(e.T-decided))
			}
			i := cue.Instruction{Action: cue.Action(e.Action), Knob: e.Knob, Direction: e.Direction, Turns: e.Turns, Begin: now, End: now + e.Seconds, Again: e.Again, Back: e.Back}
			if len(e.Goal) == 2 {
				i.Goal = &r2.Vec{X: e.Goal[0], Y: e.Goal[1]}
			}
			src.Hear(i)
			if e.Result != "" {
				result = e.Result
			}
		}
	}
	off := r2.Norm(src.Truth().Axis) / n.Telescope.Tolerance()
	if err := cmd.Wait(); err != nil {
		b.Errorf("halocue: %v", err)
	}
	seconds := time.Since(began).Seconds()
	src.Close()
	b.Logf("%s after %.0f s, truly %.2f tolerances off; %.1f frames a second measured, %.0f times overload; stop at most %.0f ms after its decision, %.0f after its picture; %d under-runs; processor %.2f",
		result, seconds, off, counts["measured"]/seconds, counts["overload"], afterDecision, afterPicture, underRuns,
		(cmd.ProcessState.UserTime()+cmd.ProcessState.SystemTime()).Seconds()/seconds)
	if result == "aligned" && off > 1 {
		b.Error("a false claim")
	}
}

// feed sends the telescope's frames as a camera does.
func feed(ctx context.Context, src *telescope.Source, in io.WriteCloser) {
	defer in.Close()
	for {
		f, err := src.Next(ctx)
		if err != nil {
			return
		}
		img := image.NewGray(image.Rect(0, 0, f.Width, f.Height))
		for i, v := range f.Pix {
			img.Pix[i] = byte(v)
		}
		var one bytes.Buffer
		if err := jpeg.Encode(&one, img, &jpeg.Options{Quality: 92}); err != nil {
			return
		}
		if _, err := in.Write(one.Bytes()); err != nil {
			return
		}
	}
}
