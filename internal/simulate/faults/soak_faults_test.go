package faults

import (
	"math/rand/v2"
	"slices"
	"sort"
)

// fault is something that goes wrong for a while.
type fault struct {
	kind     string
	from, to float64 // s since the night began
	size     float64 // 0 to 1, as bad as it gets
}

// kinds are all faults, and how long they last at most, s (judgement).
var kinds = map[string]float64{
	"cloud": 40, "damaged": 25, "unplugged": 20, "knock": 1, "gone": 20, "crossing": 3, "second star": 25,
	"flood": 12, "exposure": 20, "dew": 300, // sky and camera
	"sound": 20, "voice": 60, "power": 30, "memory": 30, "journal": 1, "command": 1, // the rest
}

// every is the mean time between two faults, s (judgement).
const every = 15.0

// draw draws the faults of a night.
func draw(r *rand.Rand, seconds float64) (list []fault) {
	names := make([]string, 0, len(kinds))
	for k := range kinds {
		names = append(names, k)
	}
	sort.Strings(names)
	for t := every * r.ExpFloat64(); t < seconds; t += every * r.ExpFloat64() {
		k := names[r.IntN(len(names))]
		list = append(list, fault{k, t, t + kinds[k]*(0.1+0.9*r.Float64()), r.Float64()})
	}
	return list
}

// now returns the fault of a kind that is going on, or nil.
func now(list []fault, kind string, t float64) *fault {
	i := slices.IndexFunc(list, func(f fault) bool { return f.kind == kind && t >= f.from && t < f.to })
	if i < 0 {
		return nil
	}
	return &list[i]
}

// depth is how bad it is: it comes and goes within two seconds.
func (f *fault) depth(t float64) float64 {
	if f == nil {
		return 0
	}
	return min((t-f.from)/2, (f.to-t)/2, 1)
}
