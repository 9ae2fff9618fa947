package indoors

import (
	"math"
	"sync"
)

// draw traces one ray a pixel, and four where that differs from its neighbours, and
// blurs.
func (t *Telescope) draw(b *bench) {
	c := t.s.Camera
	t.seen = b
	if len(t.clean) != c.Width*c.Height {
		t.clean, t.rough = make([]float32, c.Width*c.Height), make([]float32, c.Width*c.Height)
	}
	level := t.s.Light.Level / (silver * silver * silver)
	at := func(x, y float64) float64 { return math.Min(level*b.glow(b.ray(x, y)), 4) }
	rows(c.Height, func(y int) {
		for x := range c.Width {
			t.rough[y*c.Width+x] = float32(at(float64(x), float64(y)))
		}
	})
	edge := float32(0.01 * level)
	rows(c.Height, func(y int) {
		for x := range c.Width {
			i := y*c.Width + x
			v := t.rough[i]
			differs := func(j int) bool { return t.rough[j]-v > edge || v-t.rough[j] > edge }
			if x > 0 && differs(i-1) || y > 0 && differs(i-c.Width) || x+1 < c.Width && differs(i+1) || y+1 < c.Height && differs(i+c.Width) {
				sum := 0.0
				for _, d := range [...][2]float64{{-0.25, -0.25}, {0.25, -0.25}, {-0.25, 0.25}, {0.25, 0.25}} {
					sum += at(float64(x)+d[0], float64(y)+d[1])
				}
				v = float32(sum / 4)
			}
			t.clean[i] = v
		}
	})
	blur(t.clean, c.Width, c.Height, c.Blur)
}

// rows runs f for each row, on as many processors as there are.
func rows(n int, f func(y int)) {
	const workers = 4
	var wg sync.WaitGroup
	for w := range workers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for y := w; y < n; y += workers {
				f(y)
			}
		}()
	}
	wg.Wait()
}

// blur convolves with a Gaussian of the given SD, px.
func blur(pix []float32, w, h int, sd float64) {
	if sd <= 0 {
		return
	}
	reach := int(math.Ceil(3 * sd))
	kernel := make([]float32, 2*reach+1)
	sum := float32(0)
	for i := range kernel {
		x := float64(i-reach) / sd
		kernel[i] = float32(math.Exp(-x * x / 2))
		sum += kernel[i]
	}
	for i := range kernel {
		kernel[i] /= sum
	}
	pass := func(n, m, step, row int) {
		rows(m, func(y int) {
			line := make([]float32, n)
			for i := range n {
				line[i] = pix[y*row+i*step]
			}
			for i := range n {
				s := float32(0)
				for k, v := range kernel {
					j := min(max(i+k-reach, 0), n-1)
					s += v * line[j]
				}
				pix[y*row+i*step] = s
			}
		})
	}
	pass(w, h, 1, w)
	pass(h, w, w, 1)
}
