package faults

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// A soak guides night after night on the simulated telescope, with random faults of every
// kind, and looks for what only shows after hours: leaks, silences that are too long, claims
// that are not true. Most nights are without pixels. In some, frames are drawn, damaged,
// encoded as JPEG, read back by the camera's stream and measured; and OpenCV reads a video.

// soakOptions say how long, and by which chance.
type soakOptions struct {
	Hours  float64 // simulated
	Seed   uint64
	Pixels int       // one night of so many has pixels; 0: none
	Dir    string    // for journals and pictures
	Log    io.Writer // gets a line now and then
}

// figures are what came out.
type figures struct {
	Hours         float64 // simulated
	Took          time.Duration
	Nights        int
	Pixels        int // nights with pixels
	Frames, Bad   int
	Results       map[string]int
	Faults        map[string]int // by kind
	Said          int
	False         int     // claims that were not true
	Silence       float64 // the longest, s
	SilenceAt     string
	SunLate       float64 // the longest from a flood of light to the warning, s
	Warm, Highest usage   // after the first tenth, and the most after it
	Last          usage
}

// soak guides nights until the simulated hours are over.
func soak(ctx context.Context, o soakOptions) (figures, error) {
	f := figures{Results: map[string]int{}, Faults: map[string]int{}}
	video := filepath.Join(o.Dir, "soak.mkv")
	if o.Pixels > 0 {
		out, err := exec.CommandContext(ctx, "ffmpeg", "-nostdin", "-y", "-loglevel", "error",
			"-f", "lavfi", "-i", "testsrc=size=320x240:rate=10:duration=1", "-c:v", "mjpeg", video).CombinedOutput()
		if err != nil {
			return f, fmt.Errorf("making a video: %w: %s; install ffmpeg", err, out)
		}
	}
	begun := time.Now()
	chance := rand.New(rand.NewPCG(o.Seed, 77))
	for f.Hours < o.Hours && ctx.Err() == nil {
		n := session{
			soakOptions: o, figures: &f, chance: chance, seed: chance.Uint64(), video: video,
			pixels: o.Pixels > 0 && f.Nights%o.Pixels == 0, journal: filepath.Join(o.Dir, "journal.db"),
		}
		if err := n.run(ctx); err != nil {
			return f, fmt.Errorf("night %d, seed %d of soak seed %d: %w", f.Nights, n.seed, o.Seed, err)
		}
		f.Nights++
		if f.Nights%20 == 0 { // a journal that has grown is no leak
			if err := os.Remove(n.journal); err != nil {
				return f, err
			}
		}
		f.Last = measure()
		switch {
		case f.Hours < o.Hours/10 || f.Warm == usage{}:
			f.Warm = f.Last
		default:
			f.Highest = f.Highest.most(f.Last)
		}
		if f.Nights%25 == 0 {
			fmt.Fprintf(o.Log, "%.2f h, %d nights, %v, %v\n", f.Hours, f.Nights, f.Results, f.Last)
		}
	}
	f.Took = time.Since(begun)
	return f, ctx.Err()
}
