package estimate

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

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
