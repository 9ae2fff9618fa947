package ring

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/optics"
	"halocue/vision/frame"
)

// photographsDir holds photographs of real stars, poppyDir stars drawn by a
// general-purpose optics library and faultsDir frames with the faults of mirrors and
// cameras; each has a README.
const (
	photographsDir = "../../testdata/photographs"
	poppyDir       = "../../testdata/poppy"
	faultsDir      = "../../testdata/faults/frames"
)

// photograph is a picture of a real star and what a person sees in it.
type photograph struct {
	File         string
	Ring, Shadow [3]float64 // x, y, radius, px
	Spread       [2]float64 // one-sigma of the offset, px
}

func photographs(t testing.TB) (list []photograph) {
	t.Helper()
	readJSON(t, filepath.Join(photographsDir, "reference.json"), &list)
	return list
}

// meter is one that was told the focal ratio and the pixel alone.
func (photograph) meter() *Meter {
	return NewMeter(Config{Telescope: optics.Telescope{Aperture: 1000, FocalLength: 2700}, PixelMM: 0.015})
}

func (p photograph) offset() r2.Vec {
	return r2.Vec{X: p.Shadow[0] - p.Ring[0], Y: p.Shadow[1] - p.Ring[1]}
}

// load reads the photograph: FITS with one picture of floating-point numbers.
func (p photograph) load(t testing.TB) *frame.Frame {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(photographsDir, p.File))
	if err != nil {
		t.Fatal(err)
	}
	const card, block = 80, 2880
	number := map[string]int{}
	at := 0
	for ; !strings.HasPrefix(string(raw[at:]), "END "); at += card {
		key, value, _ := strings.Cut(string(raw[at:at+card]), "=")
		value, _, _ = strings.Cut(value, "/")
		number[strings.TrimSpace(key)], _ = strconv.Atoi(strings.TrimSpace(value))
	}
	at = (at/block + 1) * block
	f := frame.New(number["NAXIS1"], number["NAXIS2"])
	for i := range f.Pix {
		switch number["BITPIX"] {
		case -32:
			f.Pix[i] = math.Float32frombits(binary.BigEndian.Uint32(raw[at+4*i:]))
		case -64:
			f.Pix[i] = float32(math.Float64frombits(binary.BigEndian.Uint64(raw[at+8*i:])))
		default:
			t.Fatalf("%s: BITPIX %d", p.File, number["BITPIX"])
		}
	}
	return f
}

// drawn is a frame drawn by another program, and its truth.
type drawn struct {
	dir       string
	File      string
	Kind      string
	Aperture  float64    `json:"aperture_mm"`
	Focal     float64    `json:"focal_length_mm"`
	Secondary float64    `json:"secondary_mm"`
	PixelUM   float64    `json:"pixel_um"`
	Offset    [2]float64 `json:"offset_px"`
	Radius    float64    `json:"ring_r_px"`
}

func drawnFrames(t testing.TB, dir string) (list []drawn) {
	t.Helper()
	readJSON(t, filepath.Join(dir, "truth.json"), &list)
	for i := range list {
		list[i].dir = dir
	}
	return list
}

// meter is one that was told aperture, focal length and pixel, and not the secondary.
func (d drawn) meter() *Meter {
	return NewMeter(Config{Telescope: optics.Telescope{Aperture: d.Aperture, FocalLength: d.Focal}, PixelMM: d.PixelUM / 1000})
}

func (d drawn) offset() r2.Vec { return r2.Vec{X: d.Offset[0], Y: d.Offset[1]} }

func (d drawn) eps() float64 { return d.Secondary / d.Aperture }

// unit is what an error is measured in, px: the tolerance, or part of a larger offset.
func (d drawn) unit(part float64) float64 {
	t := optics.Telescope{Aperture: d.Aperture, FocalLength: d.Focal, Secondary: d.Secondary}
	return max(t.Tolerance()*t.OffsetPerField()/(d.PixelUM/1000), part*r2.Norm(d.offset()))
}

func (d drawn) load(t testing.TB) *frame.Frame { return loadPNG(t, filepath.Join(d.dir, d.File)) }

func readJSON(t testing.TB, name string, into any) {
	t.Helper()
	raw, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, into); err != nil {
		t.Fatal(name, err)
	}
}
