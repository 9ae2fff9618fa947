package report

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"

	"halocue/internal/journal"
)

// Journey is what happened to the alignment between two nights.
type Journey struct {
	Night   int64     `json:"night"`
	Began   time.Time `json:"began"`
	Kind    string    `json:"kind,omitempty"` // indoors, or "" for a night
	Result  string    `json:"result"`
	Found   *float64  `json:"found,omitempty"`   // as the night found it, tolerances; nil not known
	Left    *float64  `json:"left,omitempty"`    // as the night left it
	Drifted *float64  `json:"drifted,omitempty"` // by how much more it was off than the night before had left it
}

// History is every night of one telescope, the oldest first.
type History struct {
	ApertureMM    float64   `json:"aperture_mm"`
	FocalLengthMM float64   `json:"focal_length_mm"`
	Journeys      []Journey `json:"journeys"`
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
		if err != nil {
			return nil, err
		}
		i := slices.IndexFunc(all, func(h *History) bool {
			return h.ApertureMM == n.ApertureMM && h.FocalLengthMM == n.FocalLengthMM
		})
		if i < 0 {
			all = append(all, &History{ApertureMM: n.ApertureMM, FocalLengthMM: n.FocalLengthMM})
			i = len(all) - 1
		}
		all[i].add(n)
	}
	return all, nil
}

// add compares a night with the one before. Only distances are compared: nobody
// knows how the camera was turned in the focuser in between.
func (h *History) add(n *Night) {
	if n.Kind != "" { // daylight is too coarse to compare, and knobs were turned: the next night is no journey's doing
		h.Journeys = append(h.Journeys, Journey{Night: n.ID, Began: n.Began, Kind: n.Kind, Result: n.Result})
		return
	}
	j := Journey{Night: n.ID, Began: n.Began, Result: n.Result, Found: n.found()}
	if last := n.Last(); last != nil {
		j.Left = &last.Ratio
	}
	if len(h.Journeys) > 0 && j.Found != nil {
		if left := h.Journeys[len(h.Journeys)-1].Left; left != nil {
			drifted := *j.Found - *left
			j.Drifted = &drifted
		}
	}
	h.Journeys = append(h.Journeys, j)
}

// found returns how far off the mirror was before a knob was turned: the last
// that was known by then.
func (n *Night) found() *float64 {
	var found *float64
	for i := range n.Path {
		if n.FirstTurn > 0 && n.Path[i].T >= n.FirstTurn {
			break
		}
		found = &n.Path[i].Ratio
	}
	return found
}

// Verdict says what the journeys tell about the telescope. It needs three.
func (h *History) Verdict() string {
	var drifts []float64
	for _, j := range h.Journeys {
		if j.Drifted != nil {
			drifts = append(drifts, *j.Drifted)
		}
	}
	if len(drifts) < 3 {
		return fmt.Sprintf("There are too few journeys yet to tell how the telescope holds its alignment: %d of 3.", len(drifts))
	}
	slices.Sort(drifts)
	middle := drifts[len(drifts)/2]
	says := "It does not hold: look for loose locks, weak springs or a mirror that slides on its supports."
	switch {
	case middle < 0.5:
		says = "It holds well: a short check at the start of the night will do."
	case middle < 2:
		says = "It moves a little on the way: align it each night."
	}
	return fmt.Sprintf("On half of %d journeys the axis moved by at most %.1f tolerances, on the worst by %.1f. %s",
		len(drifts), max(0, middle), max(0, drifts[len(drifts)-1]), says)
}

// WriteHistory writes the histories as text, one line a night.
func WriteHistory(w io.Writer, all []*History) error {
	for _, h := range all {
		if _, err := fmt.Fprintf(w, "Telescope, aperture %g mm, focal length %g mm.\n", h.ApertureMM, h.FocalLengthMM); err != nil {
			return fmt.Errorf("writing the history: %w", err)
		}
		for _, j := range h.Journeys {
			if _, err := fmt.Fprintln(w, j.Text()); err != nil {
				return fmt.Errorf("writing the history: %w", err)
			}
		}
		if _, err := fmt.Fprintf(w, "%s\n\n", h.Verdict()); err != nil {
			return fmt.Errorf("writing the history: %w", err)
		}
	}
	return nil
}

// Text tells a journey in one line.
func (j Journey) Text() string {
	s := fmt.Sprintf("%s %d, %s:", (&Night{Kind: j.Kind}).Name(), j.Night, j.Began.Format("2 January 2006"))
	if j.Found != nil {
		s += fmt.Sprintf(" found %.1f tolerances off,", *j.Found)
	}
	if j.Left != nil {
		s += fmt.Sprintf(" left %.1f off,", *j.Left)
	}
	result := j.Result
	if result == "" {
		result = "no result"
	}
	return s + " " + result + "."
}

// WriteHistoryJSON writes the histories as data.
func WriteHistoryJSON(w io.Writer, all []*History) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	if err := e.Encode(all); err != nil {
		return fmt.Errorf("writing the history: %w", err)
	}
	return nil
}
