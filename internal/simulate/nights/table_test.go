package nights

import (
	"fmt"
	"io"
	"runtime"
	"slices"
	"sync"

	"halocue/internal/cue"
)

// RunAll guides count nights from the first seed on, on all cores, in order of
// seeds.
func RunAll(first uint64, count int, o Options) ([]Result, error) {
	if o.Words == nil {
		words, err := newSpeech()
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
	Hurried, Repeated                                Percentiles
	Changed, Overtaken, Knocked, Lost                int // in all nights
	Heard                                            Heard
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
	var seconds, turns, recentres, sides, hurried, repeated []float64
	for _, r := range rs {
		switch r.Result {
		case cue.Aligned:
			s.Aligned++
		case cue.AirLimit:
			s.Air++
		case cue.GivenUp:
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
		hurried = append(hurried, float64(r.Hurried))
		repeated = append(repeated, float64(r.Repeated))
		s.Changed += r.Changed
		s.Overtaken += r.Overtaken
		s.Knocked += r.Knocked
		s.Lost += r.Lost
		s.Heard.add(r.Heard)
	}
	s.Seconds, s.Turns = percentiles(seconds), percentiles(turns)
	s.Recentres, s.Sides = percentiles(recentres), percentiles(sides)
	s.Hurried, s.Repeated = percentiles(hurried), percentiles(repeated)
	return s
}

// Write prints the summary as a table without lines.
func (s Summary) Write(w io.Writer) error {
	_, err := fmt.Fprintf(w, "nights %d: aligned %d, as good as the air allows %d, given up %d, unfinished %d, false claims %d\n",
		s.Nights, s.Aligned, s.Air, s.GivenUp, s.Unfinished, s.False)
	rows := []struct {
		name string
		p    Percentiles
	}{{"seconds", s.Seconds}, {"turn cues", s.Turns}, {"recentre cues", s.Recentres}, {"other-side cues", s.Sides},
		{"hurried", s.Hurried}, {"said again", s.Repeated}}
	for _, r := range rows {
		if err == nil {
			_, err = fmt.Fprintf(w, "%-16s median %6.1f   90 %% %6.1f   95 %% %6.1f   most %6.1f\n", r.name, r.p.P50, r.p.P90, r.p.P95, r.p.Max)
		}
	}
	if h := s.Heard; err == nil {
		_, err = fmt.Fprintf(w, "tone: less than half of what the mirror is off %.1f %% of %d frames, inside before the bound %d frames, a turn that helps heard %.1f %% of %d, at the top %.1f %% of %d proofs\n",
			percent(h.Flattered, h.Off), h.Off, h.Early, percent(h.Rose, h.Helped), h.Helped, percent(h.Top, h.Proofs), h.Proofs)
	}
	return err
}

// percent is 0 of nothing.
func percent(part, of int) float64 { return 100 * float64(part) / float64(max(of, 1)) }

// WriteByPerson prints one line for each kind of person, and one for all. Hurried is how
// often in a night a person who has heard and not begun is told again; again also counts
// when the person has not heard. Changed (said again with another amount), overtaken
// (something else was asked for first), knocked and lost are sums.
func WriteByPerson(w io.Writer, rs []Result) error {
	by := map[string][]Result{}
	var names []string
	for _, r := range rs {
		if by[r.Person] == nil {
			names = append(names, r.Person)
		}
		by[r.Person] = append(by[r.Person], r)
	}
	slices.Sort(names)
	by["all"] = rs
	_, err := fmt.Fprintln(w, "| person | nights | aligned | air | given up | unfinished | false | seconds, 95 % | turns | pushes | hurried, 95 % | again, 95 % | changed | overtaken | knocked | lost |\n"+
		"|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|")
	for _, name := range append(names, "all") {
		s := Summarise(by[name])
		if err == nil {
			_, err = fmt.Fprintf(w, "| %s | %d | %d | %d | %d | %d | %d | %.0f, %.0f | %.0f | %.0f | %.0f, %.0f | %.0f, %.0f | %d | %d | %d | %d |\n",
				name, s.Nights, s.Aligned, s.Air, s.GivenUp, s.Unfinished, s.False, s.Seconds.P50, s.Seconds.P95, s.Turns.P50, s.Recentres.P50,
				s.Hurried.P50, s.Hurried.P95, s.Repeated.P50, s.Repeated.P95, s.Changed, s.Overtaken, s.Knocked, s.Lost)
		}
	}
	return err
}
