package report

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"halocue/internal/journal"
)

// Journey is one night, and what had happened to the alignment since the night before it.
type Journey struct {
	Night   int64     `json:"night"`
	Began   time.Time `json:"began"`
	Kind    string    `json:"kind,omitempty"` // indoors, or "" for a night
	Result  string    `json:"result"`
	Found   *float64  `json:"found,omitempty"`   // as the night found it, tolerances; nil not known
	Left    *float64  `json:"left,omitempty"`    // as the night left it
	Drifted *float64  `json:"drifted,omitempty"` // by how much more it was off than the night before had left it

	FoundBound float64 `json:"found_bound,omitempty"` // what it surely was below, tolerances
	LeftBound  float64 `json:"left_bound,omitempty"`
	Seeing     float64 `json:"seeing_arcsec,omitempty"` // the night's middle value; 0 not known
	Walked     []Walk  `json:"walked,omitempty"`        // each knob's part in the journey; none where it is not known

	path *walk
}

// Walk is what a journey did, as if a knob had been turned: turns, > 0 tightened.
type Walk struct {
	Knob  string  `json:"knob"`
	Turns float64 `json:"turns"`
	Sigma float64 `json:"sigma"`
}

// History is every night of one telescope, the oldest first.
type History struct {
	ApertureMM    float64   `json:"aperture_mm"`
	FocalLengthMM float64   `json:"focal_length_mm"`
	Journeys      []Journey `json:"journeys"`

	words *words // of the last night
	last  *Night // the last night or day, to compare with
}

// sameVisit is how soon after a night another one shows no journey (judgement).
const sameVisit = 2 * time.Hour

// Of reports whether it is the history of a telescope with these numbers, mm.
func (h *History) Of(aperture, focalLength float64) bool {
	return h.ApertureMM == aperture && h.FocalLengthMM == focalLength
}

// LastOf returns the number of the last night with a telescope of these numbers, mm.
func LastOf(ctx context.Context, j *journal.Journal, aperture, focalLength float64) (int64, error) {
	all, err := Histories(ctx, j)
	if err != nil {
		return 0, err
	}
	for _, h := range all {
		if h.Of(aperture, focalLength) {
			return h.Journeys[len(h.Journeys)-1].Night, nil
		}
	}
	return 0, fmt.Errorf("this telescope: %w", journal.ErrNoNight)
}

// Histories works up the whole journal, telescope by telescope.
func Histories(ctx context.Context, j *journal.Journal) ([]*History, error) {
	entries, err := j.Nights(ctx)
	if err != nil {
		return nil, err
	}
	var all []*History
	for _, e := range entries {
		n, err := Load(ctx, j, e.ID)
		if j.Damaged() != nil && err != nil && ctx.Err() == nil {
			continue // that night; the damage is told once
		}
		if err != nil {
			return nil, err
		}
		i := slices.IndexFunc(all, func(h *History) bool { return h.Of(n.ApertureMM, n.FocalLengthMM) })
		if i < 0 {
			all = append(all, &History{ApertureMM: n.ApertureMM, FocalLengthMM: n.FocalLengthMM})
			i = len(all) - 1
		}
		all[i].add(n)
	}
	return all, nil
}

// add compares a night with the one before: how far off by distances, which need no
// more; each knob's part only where both nights know how the camera stood to the knobs.
func (h *History) add(n *Night) {
	j := Journey{Night: n.ID, Began: n.Began, Kind: n.Kind, Result: n.Result}
	if left := n.left(); left != nil {
		j.Left, j.LeftBound = &left.Ratio, left.Bound
	}
	if r0 := n.air(); r0 > 0 {
		j.Seeing = seeing(r0)
	}
	found, before := n.found(), h.last
	h.words, h.last = n.words, n
	if n.Kind == "" && found != nil {
		j.Found, j.FoundBound = &found.Ratio, found.Bound
		// A day is too inexact to compare, and knobs were turned, so the next night shows no journey.
		if before != nil && before.Kind == "" && before.left() != nil && n.Began.Sub(before.Began) > sameVisit {
			drifted := found.Ratio - before.left().Ratio
			j.Drifted = &drifted
			if j.path = journey(before, n); j.path != nil {
				j.Walked = j.path.shares(n.Knobs)
			}
		}
	}
	h.Journeys = append(h.Journeys, j)
}

// Verdict says what the journeys show of the telescope, and of its knobs. It needs three.
func (h *History) Verdict() string {
	w := h.words
	var drifts []float64
	var paths []*walk
	for _, j := range h.Journeys {
		if j.Drifted != nil {
			drifts = append(drifts, *j.Drifted)
		}
		if j.path != nil {
			paths = append(paths, j.path)
		}
	}
	if len(drifts) < 3 {
		return w.say("history.too-few", facts{"N": len(drifts)})
	}
	slices.Sort(drifts)
	middle := drifts[len(drifts)/2]
	says := "history.loose"
	switch {
	case middle < 0.5:
		says = "history.holds"
	case middle < 2:
		says = "history.little"
	}
	return strings.Join([]string{
		w.say("history.moved", facts{"N": len(drifts), "Middle": w.num(max(0, middle), 1), "Worst": w.num(max(0, drifts[len(drifts)-1]), 1)}),
		w.say(says), h.knobVerdict(paths),
	}, " ")
}

func (h *History) knobVerdict(paths []*walk) string {
	w := h.words
	if len(paths) < 3 {
		return w.say("history.knob-few", facts{"N": len(paths)})
	}
	k, turns, sigma, ok := walker(paths)
	if !ok {
		return w.say("history.no-knob")
	}
	id := "history.tighter"
	if turns < 0 {
		id, turns = "history.looser", -turns
	}
	return w.say(id, facts{"Knob": w.knob(h.last.Knobs[k].Name), "Turns": w.num(turns, 2), "Error": w.num(max(sigma, 0.01), 2)})
}

// WriteHistory writes the histories as text, one line a night.
func WriteHistory(out io.Writer, all []*History) error {
	var b strings.Builder
	for _, h := range all {
		fmt.Fprintln(&b, h.telescope())
		for _, j := range h.Journeys {
			fmt.Fprintln(&b, h.line(j))
		}
		fmt.Fprintf(&b, "%s\n\n", h.Verdict())
	}
	return write(out, b.String())
}

func (h *History) telescope() string {
	return h.words.say("history.telescope", facts{"Aperture": h.words.num(h.ApertureMM, 0), "Focal": h.words.num(h.FocalLengthMM, 0)})
}

// line is a journey in one line.
func (h *History) line(j Journey) string {
	w := h.words
	s := []string{}
	if j.Found != nil {
		s = append(s, w.say("history.found", facts{"Ratio": w.num(*j.Found, 1)}))
	}
	if j.Left != nil {
		s = append(s, w.say("history.left", facts{"Ratio": w.num(*j.Left, 1)}))
	}
	s = append(s, h.result(j))
	n := &Night{ID: j.Night, Kind: j.Kind, words: w}
	return n.name() + ", " + w.date(j.Began) + ": " + strings.Join(s, ", ") + "."
}

func (h *History) result(j Journey) string {
	if id, ok := outcomes[j.Result]; ok {
		return h.words.say("history." + id)
	}
	return h.words.say("history.none")
}
