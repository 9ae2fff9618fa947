package faults

import (
	"bytes"
	"encoding/json"
	"math"
)

// ear reads the transcript while it is written, and keeps what can be heard.
type ear struct {
	said  []said
	heard []span // words and tone
}

type said struct {
	T, Seconds float64
	Code, Text string
}

type span struct{ from, to float64 }

func (e *ear) Write(line []byte) (int, error) {
	var s said
	switch {
	case bytes.Contains(line, []byte(`"event":"say"`)):
		if err := json.Unmarshal(line, &s); err != nil {
			return 0, err
		}
		e.said = append(e.said, s)
		e.heard = append(e.heard, span{s.T, s.T + s.Seconds})
	case bytes.Contains(line, []byte(`"event":"tone"`)):
		if err := json.Unmarshal(line, &s); err != nil {
			return 0, err
		}
		e.heard = append(e.heard, span{s.T, s.T + 0.1})
	}
	return len(line), nil
}

// silence returns the longest time in which neither words nor tone were heard,
// and when it began.
func (e *ear) silence(end float64) (longest, at float64) {
	last := 0.0
	for _, h := range append(e.heard, span{end, end}) {
		if h.from-last > longest {
			longest, at = h.from-last, last
		}
		last = math.Max(last, h.to)
	}
	return longest, at
}

// before returns what was said last before a time.
func (e *ear) before(t float64) string {
	text := ""
	for _, s := range e.said {
		if s.T < t {
			text = s.Text
		}
	}
	return text
}

// after returns when the code was said first after a time, or +Inf.
func (e *ear) after(code string, t float64) float64 {
	for _, s := range e.said {
		if s.Code == code && s.T >= t {
			return s.T
		}
	}
	return math.Inf(1)
}
