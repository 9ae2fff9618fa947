package nights

import (
	"fmt"
	"io"
	"runtime"
	"slices"
	"sync"

	"halocue/internal/coach"
)

// RunAll guides count nights from the first seed on, on all cores, in order of
// seeds.
func RunAll(first uint64, count int, o Options) ([]Result, error) {
	if o.Words == nil {
		words, err := NewSpeech()
		if err != nil {
			return nil, err
		}
		o.Words = &words
	}
	out := make([]Result, count)
	errs := make([]error, count)
	var wg sync.WaitGroup
	jobs := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range jobs {
				out[i], errs[i] = Run(first+uint64(i), o, nil)
			}
		}()
	}
	for i := range out {
		jobs <- i
	}
	close(jobs)
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Summary is many nights in a few numbers.
type Summary struct {
	Nights, Aligned, Air, GivenUp, Unfinished, False int
	Seconds, Turns, Recentres, Sides                 Percentiles
}

// Percentiles of a quantity over the nights.
type Percentiles struct{ P50, P90, P95, Max float64 }

func percentiles(v []float64) Percentiles {
	if len(v) == 0 {
		return Percentiles{}
	}
	slices.Sort(v)
	at := func(p float64) float64 { return v[min(len(v)-1, int(p*float64(len(v))))] }
	return Percentiles{at(0.5), at(0.9), at(0.95), v[len(v)-1]}
}

// Summarise counts and sorts.
func Summarise(rs []Result) Summary {
	s := Summary{Nights: len(rs)}
	var seconds, turns, recentres, sides []float64
	for _, r := range rs {
		switch r.Result {
		case coach.Aligned:
			s.Aligned++
		case coach.AirLimit:
			s.Air++
		case coach.GivenUp:
			s.GivenUp++
		default:
			s.Unfinished++
		}
		if r.False {
			s.False++
		}
		seconds = append(seconds, r.Seconds)
		turns = append(turns, float64(r.Turns))
		recentres = append(recentres, float64(r.Recentres))
		sides = append(sides, float64(r.Sides))
	}
	s.Seconds, s.Turns = percentiles(seconds), percentiles(turns)
	s.Recentres, s.Sides = percentiles(recentres), percentiles(sides)
	return s
}

// Write prints the summary as a table without lines.
func (s Summary) Write(w io.Writer) error {
	_, err := fmt.Fprintf(w, "nights %d: aligned %d, as good as the air allows %d, given up %d, unfinished %d, false claims %d\n",
		s.Nights, s.Aligned, s.Air, s.GivenUp, s.Unfinished, s.False)
	rows := []struct {
		name string
		p    Percentiles
	}{{"seconds", s.Seconds}, {"turn cues", s.Turns}, {"recentre cues", s.Recentres}, {"other-side cues", s.Sides}}
	for _, r := range rows {
		if err == nil {
			_, err = fmt.Fprintf(w, "%-16s median %6.1f   90 %% %6.1f   95 %% %6.1f   most %6.1f\n", r.name, r.p.P50, r.p.P90, r.p.P95, r.p.Max)
		}
	}
	return err
}
