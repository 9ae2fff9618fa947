package estimate

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// noise learns how much the offset scatters from frame to frame, which is mostly
// the air's own coma, and how alike neighbouring frames are. It looks at
// differences of measurements some frames apart, so that the state of the mirror
// drops out: half the mean square of d(t) - d(t-n) is var (1 - r^n) for noise
// that forgets as r^n.
type noise struct {
	recent []r2.Vec // innovations in an unbroken run, newest last
	sum    [len(lags)]float64
	weight [len(lags)]float64
}

var lags = [...]int{1, 4, 10}

// memory is the number of differences after which old ones count half or so.
const memory = 300

// newNoise expects the coma of ordinary air (r0 = 50 mm, some 2 arcsec).
func newNoise(o Instrument) noise {
	var n noise
	const trust = 8
	v := o.airOffset(50)
	for i, lag := range lags {
		n.weight[i] = trust
		n.sum[i] = trust * v * v * (1 - math.Pow(0.3, float64(lag)))
	}
	return n
}

// add takes in an innovation, mm.
func (n *noise) add(nu r2.Vec) {
	n.recent = append(n.recent, nu)
	last := len(n.recent) - 1
	if last > 2*lags[len(lags)-1] {
		n.recent = append(n.recent[:0], n.recent[last-lags[len(lags)-1]:]...)
		last = len(n.recent) - 1
	}
	for i, lag := range lags {
		if last < lag {
			continue
		}
		d := r2.Sub(nu, n.recent[last-lag])
		half := math.Min(0.25*r2.Norm2(d), 6*(n.sum[i]/n.weight[i])) // per axis; a single frame far out counts no more
		n.sum[i] = n.sum[i]*(1-1.0/memory) + half
		n.weight[i] = n.weight[i]*(1-1.0/memory) + 1
	}
}

// sd2 returns the variance per axis, mm^2.
func (n *noise) sd2() float64 {
	v := 0.0
	for i := range lags {
		v = math.Max(v, n.sum[i]/n.weight[i])
	}
	return v
}

// variance returns the variance to expect of a frame whose light alone gives it
// the one-sigma light.
func (n *noise) variance(light r2.Vec) r2.Vec {
	v := n.sd2()
	return r2.Vec{X: math.Max(v, light.X*light.X), Y: math.Max(v, light.Y*light.Y)}
}

// varianceInflation returns how many frames tell as much as one independent one would.
func (n *noise) varianceInflation() float64 {
	r := math.Min(math.Max(1-n.sum[0]/n.weight[0]/n.sd2(), 0), 0.9) + 0.05 // correlation of neighbours
	return (1 + r) / (1 - r)
}

// blockVarianceInflation is the same for a mean of many frames, where some of the noise may
// forget slowly: with the likeness at all lags, in straight lines between them.
func (n *noise) blockVarianceInflation() float64 {
	var r [len(lags)]float64
	for i := range lags {
		r[i] = math.Max(1-n.sum[i]/n.weight[i]/n.sd2(), 0)
	}
	// Frames 2 to 4 apart sum to r0 + 2 r1, those 5 to 10 apart to 2.5 r1 + 3.5 r2.
	return math.Max(n.varianceInflation(), 1+2*(2*r[0]+4.5*r[1]+3.5*r[2]))
}

// slow finds out whether the offset wanders over many seconds, as a current in the
// tube or a mirror that cools makes it. Frame by frame nothing shows: so what the
// estimate predicts is compared with means of blocks of frames. Where nothing wanders
// the square of such a mean is 1 on average, in its own one-sigma and per axis.
type slow struct {
	z, nu       r2.Vec  // sums over the block that is being filled
	frames      float64 // in it
	independent float64 // of these

	blocks float64 // so far; old ones fade
	square float64 // sum of their squares
	excess float64 // sum of what the squares are over what the scatter of frames gives, mm^2
}

// Chosen by nights of practised hands with and without an offset that wanders by 0.3
// to 1 tolerance: a lower wanders finds more of it, and takes the slow air in tubes of
// 300 mm and more for it too.
const (
	blockLooks = 20   // independent frames in a block
	fade       = 0.95 // of the weight of the blocks before, with each block
	priorBlock = 3    // blocks' worth of trust that nothing wanders
	usualBlock = 0.9  // the mean square without
	wanders    = 1.5  // mean square from which something does
	oddBlock   = 8    // the most that one block counts
	wholeWay   = 5    // how far the offset wanders at all, times how far it does so between blocks
)

func newSlow() slow { return slow{blocks: priorBlock, square: priorBlock * usualBlock} }

// add takes in how far a frame is from what was predicted: nu, mm, and z, the same in
// its one-sigma. Sd2 is the variance of one frame, mm^2.
func (s *slow) add(z, nu r2.Vec, sd2, inflation float64) {
	s.z, s.nu = r2.Add(s.z, z), r2.Add(s.nu, nu)
	s.frames++
	if s.independent += 1 / inflation; s.independent < blockLooks {
		return
	}
	of := sd2 * inflation / s.frames
	s.blocks = fade*s.blocks + 1
	s.square = fade*s.square + math.Min(r2.Norm2(s.z)/(2*s.frames*inflation), oddBlock)
	s.excess = fade*s.excess + math.Min(r2.Norm2(s.nu)/(2*s.frames*s.frames), oddBlock*of) - of
	s.z, s.nu, s.frames, s.independent = r2.Vec{}, r2.Vec{}, 0, 0
}

// variance returns that of the offset's slow wandering, mm^2 per axis: 0 as long as
// the scatter of the frames explains everything.
func (s *slow) variance() float64 {
	if s.square < wanders*s.blocks {
		return 0
	}
	return wholeWay * wholeWay * math.Max(s.excess, 0) / s.blocks
}
