package measure

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"weak"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
	"halocue/vision/ring"
	"halocue/vision/still"
)

// Frames with known truth, drawn by an independent program: testdata/stars.
const starsDir = "../../testdata/stars/"

type truth struct {
	Aperture   float64    `json:"aperture_mm"`
	Focal      float64    `json:"focal_length_mm"`
	Secondary  float64    `json:"secondary_mm"`
	PixelUM    float64    `json:"pixel_um"`
	Files      []string   `json:"files"`
	Offset     [2]float64 `json:"offset_px"`
	Coma       [2]float64 `json:"coma_offset_px"`
	Waves      float64    `json:"coma_rms_waves"`
	Axis       [2]float64 `json:"axis_mm"`
	Silhouette [2]float64 `json:"silhouette"`
	Star       [2]float64 `json:"star_px"`
	Radius     float64    `json:"ring_r_px"`
	R0         float64    `json:"r0_mm"`
}

// known returns what is true of a file, and a job for its telescope.
func known(t *testing.T, file string) (truth, Job) {
	t.Helper()
	raw, err := os.ReadFile(starsDir + "truth.json")
	if err != nil {
		t.Fatal(err)
	}
	var all []truth
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	for _, is := range all {
		if slices.Contains(is.Files, file) {
			return is, Job{
				Telescope: optics.Telescope{Aperture: is.Aperture, FocalLength: is.Focal, Secondary: is.Secondary},
				PixelMM:   is.PixelUM / 1000, Read: still.ReadFile, English: english,
			}
		}
	}
	t.Fatalf("%s is not in truth.json", file)
	return truth{}, Job{}
}

// lines runs a job over frames.
func lines(t *testing.T, j *Job, files ...string) []Line {
	t.Helper()
	for i, f := range files {
		files[i] = starsDir + f
	}
	var out []Line
	if err := j.Frames(files, func(l Line) error { out = append(out, l); return nil }); err != nil {
		t.Fatal(err)
	}
	return out
}

func within(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !(math.Abs(got-want) <= by) {
		t.Errorf("%s is %.4f, want %.4f within %.4f", what, got, want, by)
	}
}

// What a frame says of the mirror, against the truth of the program that drew it.
func TestOneFrame(t *testing.T) {
	is, j := known(t, "clean-01.png")
	l := lines(t, &j, "clean-01.png")[0]
	if !l.Found || l.Combined || l.Pair || !slices.Contains(l.Flags, ring.OneSide) {
		t.Fatalf("%+v", l)
	}
	within(t, "offset x", l.Offset.X, is.Offset[0], 0.1)
	within(t, "offset y", l.Offset.Y, is.Offset[1], 0.1)
	within(t, "axis x", l.Axis.X, is.Axis[0], 0.05)
	within(t, "axis y", l.Axis.Y, is.Axis[1], 0.05)
	within(t, "coma", *l.Waves, is.Waves, 0.003)
	within(t, "tolerances", *l.Ratio, is.Waves/optics.ToleranceRMS, 0.05)
	if w, want := l.Words(english), fmt.Sprintf("leans %.2f px right and %.2f px up, give or take", l.Offset.X, -l.Offset.Y); !strings.Contains(w, want) {
		t.Errorf("%q does not say %q", w, want)
	}
}

func TestPair(t *testing.T) {
	is, j := known(t, "pair-02-inside.png")
	var all []Line
	err := j.Pair([]string{starsDir + is.Files[0]}, []string{starsDir + is.Files[1]}, func(l Line) error { all = append(all, l); return nil })
	if err != nil || len(all) != 3 {
		t.Fatal(all, err)
	}
	l := all[2]
	if !l.Found || !l.Pair || slices.Contains(l.Flags, ring.OneSide) {
		t.Fatalf("%+v", l)
	}
	allowed := j.Telescope.Tolerance() * j.Telescope.OffsetPerField() / j.PixelMM
	within(t, "coma x", l.Coma.X, is.Coma[0], 0.05*allowed)
	within(t, "coma y", l.Coma.Y, is.Coma[1], 0.05*allowed)
	within(t, "silhouette x", l.Delta.X, is.Silhouette[0], 0.003)
	within(t, "silhouette y", l.Delta.Y, is.Silhouette[1], 0.003)
	// One side alone is wrong by the silhouette: that is what a pair is for.
	one := all[0].Offset
	if d := math.Hypot(one.X-is.Coma[0], one.Y-is.Coma[1]); d < 0.2*allowed {
		t.Errorf("inside alone is only %.2f px off; the case proves nothing", d)
	}
}

func TestPairWithOneSideMissing(t *testing.T) {
	_, j := known(t, "clean-01.png")
	var last Line
	err := j.Pair([]string{starsDir + "clean-01.png"}, []string{starsDir + "none-04.png"}, func(l Line) error { last = l; return nil })
	if err != nil || last.Found || !last.Pair || last.Why != ring.Dark {
		t.Errorf("%+v, %v", last, err)
	}
}

func TestNothingFoundSaysWhatToDo(t *testing.T) {
	_, j := known(t, "clean-01.png")
	l := lines(t, &j, "none-06.png")[0]
	if l.Found || l.Why != ring.NoShadow || l.Offset != nil || l.Flags == nil {
		t.Errorf("%+v", l)
	}
	if w := l.Words(english); !strings.Contains(w, "rack further out of focus") {
		t.Errorf("%q", w)
	}
	for _, why := range []ring.Why{ring.Dark, ring.TooBright, ring.NoRing, ring.Focused, ring.NoShadow, ring.CutOff, ring.Clipped, ring.Faint, ring.Blurred, ring.TwoStars} {
		if strings.HasPrefix(english("measure."+string(why)), "%!") {
			t.Errorf("no words for %q", why)
		}
	}
}

func TestSeveralFramesEndTogether(t *testing.T) {
	_, j := known(t, "clean-01.png")
	all := lines(t, &j, "clean-01.png", "none-04.png", "clean-01.png")
	l := all[len(all)-1]
	if len(all) != 4 || !l.Combined || !l.Found || l.Frames != 2 || l.File != "" {
		t.Fatalf("%d lines, the last %+v", len(all), l)
	}
	within(t, "offset", l.Offset.Y, all[0].Offset.Y, 1e-9)
	if !(l.Sigma.X < all[0].Sigma.X) {
		t.Errorf("two frames have sigma %g, one %g", l.Sigma.X, all[0].Sigma.X)
	}
}

func TestErrorsStopIt(t *testing.T) {
	_, j := known(t, "clean-01.png")
	n := 0
	count := func(Line) error { n++; return nil }
	missing := filepath.Join(t.TempDir(), "none.png")
	if err := j.Frames([]string{starsDir + "none-04.png", missing, starsDir + "none-04.png"}, count); err == nil || n != 1 {
		t.Errorf("%v after %d lines", err, n)
	}
	full := errors.New("the disk is full")
	if err := j.Pair([]string{starsDir + "none-04.png"}, []string{starsDir + "none-04.png"}, func(Line) error { return full }); !errors.Is(err, full) {
		t.Errorf("%v", err)
	}
}

func TestWaysAreSaidAsPeoplePoint(t *testing.T) {
	for v, want := range map[r2.Vec]string{
		{X: 1, Y: 2}:   "1.00 px right and 2.00 px down",
		{X: -1, Y: -2}: "1.00 px left and 2.00 px up",
	} {
		if got := Way(english, XY(v), "px"); got != want {
			t.Errorf("%v: %q", v, got)
		}
	}
}

// A frame of 33 million pixels takes 132 MB: none is kept once it is measured.
func TestNoFrameIsKept(t *testing.T) {
	_, j := known(t, "pair-01-inside.png")
	var before []weak.Pointer[frame.Frame]
	read := j.Read
	j.Read = func(path string) (*frame.Frame, error) {
		runtime.GC()
		for i, f := range before {
			if f.Value() != nil {
				t.Errorf("as frame %d is read, frame %d is kept", len(before), i)
			}
		}
		f, err := read(path)
		before = append(before, weak.Make(f))
		return f, err
	}
	lines(t, &j, "none-00.png", "none-00.png", "none-00.png")
}
