package telescope

import (
	"encoding/json"
	"image/color"
	"image/png"
	"math"
	"os"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/stat"

	"halocue/internal/optics"
)

const stars = "../../../testdata/stars/"

// rendered is a frame of testdata/stars with what truth.json says of it.
type rendered struct {
	Aperture   float64    `json:"aperture_mm"`
	Focal      float64    `json:"focal_length_mm"`
	Secondary  float64    `json:"secondary_mm"`
	Pixel      float64    `json:"pixel_um"`
	Files      []string   `json:"files"`
	Star       [2]float64 `json:"star_px"`
	Radius     float64    `json:"ring_r_px"`
	Offset     [2]float64 `json:"offset_px"`
	ComaOffset [2]float64 `json:"coma_offset_px"`
	Silhouette [2]float64 `json:"silhouette"`
}

func renderedStar(t *testing.T, file string) rendered {
	t.Helper()
	raw, err := os.ReadFile(stars + "truth.json")
	if err != nil {
		t.Fatal(err)
	}
	var all []rendered
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	for _, r := range all {
		if slices.Contains(r.Files, file) {
			return r
		}
	}
	t.Fatalf("%s is not in truth.json", file)
	return rendered{}
}

func readGrey(t *testing.T, file string) (pix []float64, width int) {
	t.Helper()
	f, err := os.Open(stars + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	im, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	b := im.Bounds()
	for y := range b.Dy() {
		for x := range b.Dx() {
			pix = append(pix, float64(color.Gray16Model.Convert(im.At(x, y)).(color.Gray16).Y))
		}
	}
	return pix, b.Dx()
}

// Frames drawn by an independent diffraction program (testdata/stars) are our own
// image and white noise: what is left after the fit of flux and sky has no
// structure. Its three wavelengths, its vanes, and for the pairs where the star
// stands and how large its ring is, are not in truth.json: they were fitted once.
func TestSameImageAsAnIndependentProgram(t *testing.T) {
	cases := []struct {
		file        string
		side        float64 // > 0 outside
		angle, thin float64 // of the first of four vanes; thickness, mm
		star        [2]float64
		radius      float64
	}{
		{"clean-00.png", -1, 0.3973, 0.300, [2]float64{}, 0},
		{"clean-02.png", -1, 0.9837, 0.781, [2]float64{}, 0},
		{"pair-00-inside.png", -1, 0.3468, 0.860, [2]float64{495.780, 327.635}, 68.519},
		{"pair-00-outside.png", 1, 0.3468, 0.860, [2]float64{495.780, 327.635}, 80.873},
		{"pair-01-inside.png", -1, 0.4975, 0.860, [2]float64{277.501, 254.971}, 102.446},
		{"pair-01-outside.png", 1, 0.4975, 0.860, [2]float64{277.501, 254.971}, 84.840},
	}
	for _, c := range cases {
		t.Run(c.file, func(t *testing.T) {
			is := renderedStar(t, c.file)
			if c.radius == 0 {
				c.star, c.radius = is.Star, is.Radius
			} else {
				is.Offset = is.ComaOffset
			}
			pixel := is.Pixel / 1000
			tel := optics.Telescope{Aperture: is.Aperture, FocalLength: is.Focal, Secondary: is.Secondary}
			field := r2.Scale(-pixel/tel.OffsetPerField(), r2.Vec{X: is.Offset[0], Y: is.Offset[1]})
			p := pupil{
				eps: tel.Obstruction(), half: c.thin / is.Aperture,
				c:       r2.Vec{X: is.Silhouette[0], Y: is.Silhouette[1]},
				defocus: tel.DefocusWaves(c.side * tel.Defocus(c.radius*pixel)),
				coma:    r2.Scale(tel.Coma(1), field),
			}
			for i := range 4 {
				p.vanes = append(p.vanes, polar(1, c.angle+float64(i)*math.Pi/2))
			}
			d := newDiffraction(512)
			s := d.diffract(&p, tel.FocalRatio(), []float64{550.0 / 480, 1, 550.0 / 620})
			s.soften(d.g, pixel, 0, 0, 0)
			left, width := residual(t, c.file, s, c.star, c.radius, pixel)
			for _, lag := range []int{1, width, width + 1} {
				rho := stat.Correlation(left[lag:], left[:len(left)-lag], nil)
				if math.Abs(rho) > 0.12 {
					t.Errorf("the residuals hang together: correlation %.3f at lag %d", rho, lag)
				}
			}
		})
	}
}

// residual fits flux and sky and returns the frame minus the model in units of
// the square root of the model, over a box about the ring, row by row.
func residual(t *testing.T, file string, s stamp, star [2]float64, radius, pixel float64) (left []float64, width int) {
	pix, w := readGrey(t, file)
	x0, y0, size := int(star[0]-1.25*radius), int(star[1]-1.25*radius), int(2.5*radius)
	var model, data, trust []float64
	for y := y0; y < y0+size; y++ {
		for x := x0; x < x0+size; x++ {
			model = append(model, s.at((float64(x)-star[0])*pixel, (float64(y)-star[1])*pixel))
			data = append(data, pix[y*w+x])
			trust = append(trust, 1)
			if pix[y*w+x] >= 65000 { // burnt out
				trust[len(trust)-1] = 0
			}
		}
	}
	sky, flux := stat.LinearRegression(model, data, trust, false)
	for i, m := range model {
		v := trust[i] * (data[i] - sky - flux*m) / math.Sqrt(math.Abs(sky)+flux*m+100)
		left = append(left, v)
	}
	return left, size
}
