package record

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/floats/scalar"

	"halocue/internal/observe"
)

// Said is something that a coach had said.
type Said struct {
	T                         float64 // of its first word, s
	Event, Code, Action, Text string
	Knob, Direction, Amount   string
	Result                    string
	Seconds                   float64
}

// Story is what a transcript tells of a night.
type Story struct {
	Said   []Said             // by the coach; not what was said of devices, nor answers in which it has no part
	Speech map[string]float64 // how long each sentence took, s
	Result string             // of the done cue; "" for none
	Ended  float64            // when its words began, or the last measurement, s
	Claim  Claim
	Frames int     // measured
	FPS    float64 // frames a second, by their times; 0: too few to tell
}

// Claim is where the mirror's axis was last known to point, mm from the target, with
// the standard deviation claimed for it, and the bound on its error.
type Claim struct {
	Known bool       `json:"known"`
	Axis  observe.XY `json:"axis_mm"`
	Sigma observe.XY `json:"axis_sigma_mm"`
	Ratio float64    `json:"tolerance_ratio"` // distance from the target, in tolerances
	Bound float64    `json:"bound"`           // likewise
}

// LongestLine bounds a line of a transcript, bytes.
const LongestLine = 1 << 20

// Bounds on what is kept of a transcript.
const (
	mostSaid = 16 << 20  // bytes of lines with sentences
	mostSeen = 1_000_000 // measurements
)

// ReadStory reads a transcript. A line that is not one of a transcript is left out.
func ReadStory(transcript io.Reader) (s Story, err error) {
	s.Speech = map[string]float64{}
	decided := map[string]bool{}
	var times []float64
	lines := bufio.NewScanner(transcript)
	lines.Buffer(nil, LongestLine)
	for said := 0; said < mostSaid && len(times) < mostSeen && lines.Scan(); {
		var e struct {
			Said
			Claim
		}
		if err := json.Unmarshal(lines.Bytes(), &e); err != nil {
			continue
		}
		switch e.Event {
		case "decide":
			decided[e.Code] = true
		case "measure":
			times = append(times, e.T)
			if s.Result == "" {
				s.Ended = e.T
			}
			if e.Known {
				s.Claim = e.Claim
			}
		case "say":
			said += len(lines.Bytes())
			s.Speech[e.Text] = e.Seconds
			s.Said = append(s.Said, e.Said)
			if e.Said.Result != "" {
				s.Result, s.Ended = e.Said.Result, e.T
			}
		}
	}
	own := s.Said[:0]
	for _, one := range s.Said {
		if decided[one.Code] {
			own = append(own, one)
		}
	}
	s.Said, s.Frames, s.FPS = own, len(times), rate(times)
	if lines.Err() != nil && !errors.Is(lines.Err(), bufio.ErrTooLong) {
		err = fmt.Errorf("reading the transcript: %w; copy it again", lines.Err())
	}
	return s, err
}

// rate is how many times there are in a second where they follow each other evenly: a camera
// may have been away between them.
func rate(times []float64) float64 {
	var gaps []float64
	for i := 1; i < len(times); i++ {
		gaps = append(gaps, times[i]-times[i-1])
	}
	if len(gaps) == 0 {
		return 0
	}
	slices.Sort(gaps)
	even, _ := slices.BinarySearch(gaps, 2*gaps[len(gaps)/2])
	if sum := floats.Sum(gaps[:even]); sum > 0 {
		return scalar.Round(float64(even)/sum, 3)
	}
	return 0
}

// ReadStoryIn reads the transcript of the recording in a folder.
func ReadStoryIn(folder string) (Story, error) {
	f, err := OpenTranscript(folder)
	if err != nil {
		return Story{}, err
	}
	defer f.Close()
	return ReadStory(f)
}

// OpenTranscript opens the transcript of a recording.
func OpenTranscript(folder string) (*os.File, error) {
	path := filepath.Join(folder, Transcript)
	if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() {
		return nil, fmt.Errorf("reading %s: its %s is missing, without which frames have no times; copy the folder again, or measure single frames of it with halocue measure", folder, Transcript)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("reading the recording: %w; check that you may read it", err)
	}
	return f, nil
}

// FirstDifference returns the index of the first thing said that differs between two
// nights; -1 if all is the same.
func FirstDifference(a, b Story) int {
	for i := range max(len(a.Said), len(b.Said)) {
		if i >= len(a.Said) || i >= len(b.Said) || a.Said[i].Text != b.Said[i].Text || a.Said[i].Code != b.Said[i].Code {
			return i
		}
	}
	return -1
}

// worth is how good the end of a night is.
var worth = map[string]int{"aligned": 3, "as-good-as-the-air-allows": 2, "given-up": 1}

// sooner is the part by which a claim must come sooner or later to be better or worse
// (judgement).
const sooner = 0.1

// Verdict compares what another program makes of a night with what one made of it: same in
// every word, same in its claim, better or worse. Better is a claim where there was none,
// or one that comes sooner; whether it is true, a recording cannot tell.
func Verdict(then, now Story) string {
	switch a, b := worth[then.Result], worth[now.Result]; {
	case FirstDifference(then, now) < 0:
		return "same"
	case b > a:
		return "better"
	case b < a:
		return "worse"
	case a > 0 && now.Ended < then.Ended*(1-sooner):
		return "better"
	case a > 0 && now.Ended > then.Ended*(1+sooner):
		return "worse"
	}
	return "same claim"
}

// Agreement compares the axis points that two recordings end with: the difference in mm,
// and in standard deviations of what was claimed. Where the camera was turned by half a
// turn between them, the second point counts from the other side.
func Agreement(a, b Claim, turned bool) (mm, sigmas float64, err error) {
	if !a.Known || !b.Known {
		return 0, 0, errors.New("one of the two never knew where the axis points; record it again, to its end")
	}
	sign := 1.0
	if turned {
		sign = -1
	}
	dx, dy := a.Axis.X-sign*b.Axis.X, a.Axis.Y-sign*b.Axis.Y
	sx, sy := math.Hypot(a.Sigma.X, b.Sigma.X), math.Hypot(a.Sigma.Y, b.Sigma.Y)
	if !(sx > 0 && sy > 0) {
		return 0, 0, errors.New("one of the two claims no standard deviation; record it again, to its end")
	}
	return math.Hypot(dx, dy), math.Hypot(dx/sx, dy/sy), nil
}
