package ring

import (
	"encoding/json"
	"fmt"
	"image"
	_ "image/png"
	"math"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"halocue/internal/frame"
	"halocue/internal/optics"
)

func readPNG(path string) (*frame.Frame, error) {
	r, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	img, _, err := image.Decode(r)
	if err != nil {
		return nil, err
	}
	b := img.Bounds()
	f := frame.New(b.Dx(), b.Dy())
	f.Name = path
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
	}
	return f, nil
}

type kase struct {
	Kind               string
	Aperture_mm        float64
	Focal_length_mm    float64
	Secondary_mm       float64
	Pixel_um           float64
	Files              []string
	Found              bool
	Star_px, Offset_px []float64
	Coma_offset_px     []float64
	Silhouette         []float64
	Ring_r_px, R0_mm   float64
	What               string
}

func TestScore(t *testing.T) {
	dir := os.Getenv("STARS")
	if dir == "" {
		dir = "/work/shared/stars"
	}
	only := os.Getenv("ONLY")
	raw, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var cases []kase
	if err := json.Unmarshal(raw, &cases); err != nil {
		t.Fatal(err)
	}
	sum := map[string][]float64{}
	for _, c := range cases {
		if m, _ := filepath.Match(only, c.Files[0]); only != "" && !m {
			continue
		}
		tel := optics.Telescope{Aperture: c.Aperture_mm, FocalLength: c.Focal_length_mm, Secondary: c.Secondary_mm}
		m := NewMeter(Config{Telescope: tel, PixelMM: c.Pixel_um / 1000})
		if os.Getenv("DEBUG") != "" {
			m.look = func(f *fitter, q *params) {
				t.Logf("scale %.2f q %.4f noise %+v vanes %d", f.scale, *q, f.noise, f.vanes)
				dump(f, q)
			}
		}
		tol := tel.Tolerance() * tel.OffsetPerField() / (c.Pixel_um / 1000)
		files := c.Files
		if c.Kind == "seeing" {
			scoreSeeing(t, dir, c, m, tel)
			continue
		}
		for i, name := range files {
			f, err := readPNG(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			t0 := cpu()
			meas := m.Measure
			if os.Getenv("TRACK") != "" {
				meas = m.Track
			}
			r := meas(f)
			dt := cpu() - t0
			if !r.Found || !c.Found {
				t.Logf("%-22s found %v why %q truth %v %s (%.2f s)", name, r.Found, r.Why, c.Found, c.What, dt)
				continue
			}
			truth := c.Offset_px
			if c.Kind == "pair" {
				s := 1.0
				if i == 1 {
					s = -1
				}
				R := r.Ring.Radius
				truth = []float64{c.Coma_offset_px[0] + s*c.Silhouette[0]*R, c.Coma_offset_px[1] + s*c.Silhouette[1]*R}
				c.Star_px = []float64{r.Ring.X, r.Ring.Y}
			}
			ex, ey := r.Offset.X-truth[0], r.Offset.Y-truth[1]
			u := max(tol, math.Hypot(truth[0], truth[1])/2)
			a := sum[c.Kind]
			if a == nil {
				a = make([]float64, 5)
			}
			e := math.Hypot(ex, ey) / u
			a[0]++
			a[1] += e * e
			a[2] = max(a[2], e)
			a[3] += (sq(ex/r.Sigma.X) + sq(ey/r.Sigma.Y)) / 2
			a[4] += dt
			sum[c.Kind] = a
			t.Logf("%-22s err %.4f | px %.3f %.3f sigma %.3f %.3f | ring %.3f %.3f  R %.3f of %.3f (%.2f s)", name, math.Hypot(ex, ey)/u, ex, ey, r.Sigma.X, r.Sigma.Y,
				r.Ring.X-c.Star_px[0], r.Ring.Y-c.Star_px[1], r.Ring.Radius, c.Ring_r_px, dt)
		}
	}
	for k, a := range sum {
		t.Logf("SUM %-8s n %2.0f rms %.4f worst %.4f err/sigma %.2f %.2f s", k, a[0], math.Sqrt(a[1]/a[0]), a[2], math.Sqrt(a[3]/a[0]), a[4]/a[0])
	}
}

func dump(f *fitter, q *params) {
	f.residuals(q)
	w, err := os.Create(os.Getenv("DEBUG"))
	if err != nil {
		return
	}
	defer w.Close()
	for i, d := range f.data {
		fmt.Fprintf(w, "%.1f %.1f %.6g %.6g %.4g %.3f\n", d.x, d.y, d.v, f.model[i], f.sigma[i], f.weight[i])
	}
}

func cpu() float64 {
	var u syscall.Rusage
	syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return float64(u.Utime.Sec) + float64(u.Utime.Usec)*1e-6
}

func scoreSeeing(t *testing.T, dir string, c kase, m *Meter, tel optics.Telescope) {
	var ms []Measurement
	var tr, ks []Measurement
	t0 := cpu()
	for _, name := range c.Files {
		f, err := readPNG(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		m.look = func(_ *fitter, q *params) {
			e := 1 - q[pEps]*q[pEps]
			ks = append(ks, Measurement{Found: true, Offset: r2.Vec{X: -q[pKX] * e * q[pR], Y: -q[pKY] * e * q[pR]}})
		}
		if os.Getenv("NOFIT") == "" {
			ms = append(ms, m.Measure(f))
		}
		tr = append(tr, m.Track(f))
	}
	dt := (cpu() - t0) / float64(len(c.Files))
	air := tel.AirComa(c.R0_mm) / optics.ToleranceRMS * tel.Tolerance() * tel.OffsetPerField() / (c.Pixel_um / 1000)
	for i, list := range [][]Measurement{ms, tr, ks} {
		r := Combine(list)
		ex, ey := r.Offset.X-c.Offset_px[0], r.Offset.Y-c.Offset_px[1]
		var sx, sy float64
		for _, m := range list {
			sx += sq(m.Offset.X - c.Offset_px[0])
			sy += sq(m.Offset.Y - c.Offset_px[1])
		}
		k := float64(len(list))
		if i == 2 {
			var ab, aa, bb float64
			for j := range ks {
				a := r2.Sub(ms[j].Offset, r2.Vec{X: c.Offset_px[0], Y: c.Offset_px[1]})
				b := r2.Sub(ks[j].Offset, r2.Vec{X: c.Offset_px[0], Y: c.Offset_px[1]})
				ab, aa, bb = ab+r2.Dot(a, b), aa+r2.Dot(a, a), bb+r2.Dot(b, b)
			}
			w := (bb - ab) / (aa + bb - 2*ab)
			t.Logf("o rms %.2f k rms %.2f corr %.2f best weight of o %.2f gives %.2f", math.Sqrt(aa/2/k)/air, math.Sqrt(bb/2/k)/air, ab/math.Sqrt(aa*bb), w, math.Sqrt((w*w*aa+(1-w)*(1-w)*bb+2*w*(1-w)*ab)/2/k)/air)
		}
		t.Logf("seeing %s D/r0 %.1f N %.0f: combined err %.2f air units (n %d) | px %.3f %.3f sigma %.3f | single rms %.2f of the air's %.3f px | %.2f s", []string{"fit", "track", "k"}[i], c.Aperture_mm/c.R0_mm, m.fresnelPerPx()*c.Ring_r_px,
			math.Hypot(ex, ey)/air/math.Sqrt(2/k), r.Frames, ex, ey, r.Sigma.X, math.Sqrt((sx+sy)/k/2)/air, air, dt)
	}
}
