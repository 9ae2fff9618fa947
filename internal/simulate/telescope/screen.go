package telescope

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r2"
)

// screen is a layer of Kolmogorov turbulence: phase over a square that repeats
// itself, and the waves longer than the square, which do not.
type screen struct {
	n     int
	step  float64   // mm
	phase []float32 // radians, row by row
	long  []longWave
}

// longWave is re cos(k.x) - im sin(k.x), k in radians per mm.
type longWave struct {
	k      r2.Vec
	re, im float64
}

// newScreens draws two independent screens of n x n points (n a multiple of 16),
// step mm apart, for the Fried parameter r0, mm. The power spectrum of the phase
// is 0.0229 r0^(-5/3) f^(-11/3), f in cycles per mm (Noll 1976, eq. 21); what is
// longer than the square is added as Lane, Glindemann and Dainty 1992 do (from
// memory): three times three waves at a third of the frequency, thrice.
func newScreens(r *rand.Rand, n int, step, r0 float64) [2]screen {
	df := 1 / (float64(n) * step)
	amplitude := func(f, df float64) float64 {
		return math.Sqrt(0.0229*math.Pow(r0, -5.0/3)*math.Pow(f, -11.0/3)) * df
	}
	g := newGrid(n)
	for j := range n {
		for i := range n {
			f := math.Hypot(g.frequency(i), g.frequency(j)) * df
			if f > 0 {
				a := amplitude(f, df)
				g.v[j*n+i] = complex(a*r.NormFloat64(), a*r.NormFloat64())
			}
		}
	}
	g.backward()
	var out [2]screen
	for s := range out {
		o := &out[s]
		o.n, o.step, o.phase = n, step, make([]float32, n*n)
		for i, v := range g.v {
			o.phase[i] = float32([2]float64{real(v), imag(v)}[s])
		}
		for level := 1; level <= 3; level++ {
			df := df / math.Pow(3, float64(level))
			for j := -1; j <= 1; j++ {
				for i := -1; i <= 1; i++ {
					if i == 0 && j == 0 {
						continue
					}
					a := amplitude(math.Hypot(float64(i), float64(j))*df, df)
					k := r2.Scale(2*math.Pi*df, r2.Vec{X: float64(i), Y: float64(j)})
					o.long = append(o.long, longWave{k, a * r.NormFloat64(), a * r.NormFloat64()})
				}
			}
		}
	}
	return out
}

// window returns the phase about the point at, radians, over a pupil of the given
// radius, both mm; x and y are in radii. The long waves are expanded to second
// order there.
func (s *screen) window(at r2.Vec, radius float64) wavefront {
	var gx, gy, xx, xy, yy float64
	for _, w := range s.long {
		sin, cos := math.Sincos(r2.Dot(w.k, at))
		slope, bend := -w.re*sin-w.im*cos, -(w.re*cos - w.im*sin)
		gx, gy = gx+slope*w.k.X, gy+slope*w.k.Y
		xx, xy, yy = xx+bend*w.k.X*w.k.X/2, xy+bend*w.k.X*w.k.Y, yy+bend*w.k.Y*w.k.Y/2
	}
	return func(x, y float64) float64 {
		x, y = x*radius, y*radius
		slow := gx*x + gy*y + xx*x*x + xy*x*y + yy*y*y
		return slow + s.at((at.X+x)/s.step, (at.Y+y)/s.step)
	}
}

// at interpolates the repeating square, at a place in steps, by cubic convolution.
func (s *screen) at(x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	cx, cy := keys(x-fx), keys(y-fy)
	var cols [4]int
	for a := range cols {
		cols[a] = wrap(int(fx)-1+a, s.n)
	}
	var sum float64
	for b, c := range cy {
		row := s.phase[wrap(int(fy)-1+b, s.n)*s.n:]
		sum += c * (cx[0]*float64(row[cols[0]]) + cx[1]*float64(row[cols[1]]) + cx[2]*float64(row[cols[2]]) + cx[3]*float64(row[cols[3]]))
	}
	return sum
}

func wrap(i, n int) int { return ((i % n) + n) % n }

// flow is two screens carried over the mirror by the wind and by the slow air of
// the tube (frozen flow).
type flow struct {
	layers [2]screen
	share  [2]float64 // amplitude of each
	from   [2]r2.Vec  // mm
	wind   [2]r2.Vec  // mm/s
	radius float64
}

func newFlow(n Night) *flow {
	r := chance(n.Seed, screenStream)
	d := n.Telescope.Aperture
	f := &flow{layers: newScreens(r, 1024, d/40, n.Sky.Fried()), radius: d / 2}
	f.share = [2]float64{math.Sqrt(1 - n.Sky.Slow), math.Sqrt(n.Sky.Slow)}
	for i, speed := range [2]float64{n.Sky.Wind, slowWind} {
		f.from[i] = r2.Vec{X: uniform(r, 0, 25*d), Y: uniform(r, 0, 25*d)}
		f.wind[i] = polar(1000*speed, uniform(r, -math.Pi, math.Pi))
	}
	return f
}

// wave returns the wavefront at time t, seconds, in waves at 550 nm.
func (f *flow) wave(t float64) wavefront {
	var w [2]wavefront
	for i := range w {
		w[i] = f.layers[i].window(r2.Add(f.from[i], r2.Scale(t, f.wind[i])), f.radius)
	}
	return func(x, y float64) float64 {
		return (f.share[0]*w[0](x, y) + f.share[1]*w[1](x, y)) / (2 * math.Pi)
	}
}
