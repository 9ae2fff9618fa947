package ring

import (
	"image"
	_ "image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// starsDir holds frames with known truth, drawn by an independent program that
// shares no code with halocue.
const starsDir = "../../testdata/stars"

// star is one case of truth.json.
type star struct {
	Kind       string
	Aperture   float64 `json:"aperture_mm"`
	Focal      float64 `json:"focal_length_mm"`
	Secondary  float64 `json:"secondary_mm"`
	PixelUM    float64 `json:"pixel_um"`
	Files      []string
	Found      bool
	Star       [2]float64 `json:"star_px"`
	Offset     [2]float64 `json:"offset_px"`
	Coma       [2]float64 `json:"coma_offset_px"`
	Silhouette [2]float64
	Radius     float64 `json:"ring_r_px"`
	R0         float64 `json:"r0_mm"`
	What       string
}

func (s star) telescope() optics.Telescope {
	return optics.Telescope{Aperture: s.Aperture, FocalLength: s.Focal, Secondary: s.Secondary}
}

func (s star) meter() *Meter {
	return NewMeter(Config{Telescope: s.telescope(), PixelMM: s.PixelUM / 1000})
}

// tolerance is the diffraction tolerance as an offset, px.
func (s star) tolerance() float64 {
	t := s.telescope()
	return t.Tolerance() * t.OffsetPerField() / (s.PixelUM / 1000)
}

// air is the air's own coma in one frame as an offset, px per axis (Noll 1976).
func (s star) air() float64 {
	return s.telescope().AirComa(s.R0) / optics.ToleranceRMS * s.tolerance()
}

func (s star) offset() r2.Vec { return r2.Vec{X: s.Offset[0], Y: s.Offset[1]} }

// unit is what an error is measured in, px: the tolerance, or half a large offset.
func (s star) unit(truth r2.Vec) float64 { return math.Max(s.tolerance(), r2.Norm(truth)/2) }

// stars returns the cases of one kind.
func stars(t testing.TB, kind string) []star {
	t.Helper()
	var all, some []star
	readJSON(t, filepath.Join(starsDir, "truth.json"), &all)
	for _, s := range all {
		if s.Kind == kind {
			some = append(some, s)
		}
	}
	if len(some) == 0 {
		t.Fatalf("no frames of kind %q", kind)
	}
	return some
}

// load reads one of the frames with known truth.
func load(t testing.TB, name string) *frame.Frame { return loadPNG(t, filepath.Join(starsDir, name)) }

// loadPNG reads a grey PNG of 8 or 16 bits.
func loadPNG(t testing.TB, name string) *frame.Frame {
	t.Helper()
	r, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	img, _, err := image.Decode(r)
	if err != nil {
		t.Fatal(err)
	}
	f := frame.New(img.Bounds().Dx(), img.Bounds().Dy())
	switch g := img.(type) {
	case *image.Gray:
		f.White = 255
		for i, v := range g.Pix {
			f.Pix[i] = float32(v)
		}
	case *image.Gray16:
		f.White = 65535
		for i := range f.Pix {
			f.Pix[i] = float32(int(g.Pix[2*i])<<8 | int(g.Pix[2*i+1]))
		}
	default:
		t.Fatalf("%s is not grey", name)
	}
	return f
}

// every is more cases than there are of any kind: a proof takes them all, a test the first few.
const every = math.MaxInt

func first[T any](list []T, n int) []T { return list[:min(n, len(list))] }

// tally gathers errors in units and in sigmas.
type tally struct {
	n                   int
	err2, worst, sigma2 float64
}

func (a *tally) add(e, sigma r2.Vec, unit float64) {
	u := r2.Norm(e) / unit
	a.n++
	a.err2 += u * u
	a.worst = math.Max(a.worst, u)
	a.sigma2 += (sq(e.X/sigma.X) + sq(e.Y/sigma.Y)) / 2
}

func (a *tally) rms() float64    { return math.Sqrt(a.err2 / float64(a.n)) }
func (a *tally) sigmas() float64 { return math.Sqrt(a.sigma2 / float64(a.n)) }
