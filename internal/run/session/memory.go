package session

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"time"

	"halocue/config"
	"halocue/internal/coach"
	"halocue/internal/journal"
)

// beginNight opens the journal at path and begins a night in it. The function it
// returns ends both, with the night's result. Aside is where a damaged journal was put.
func beginNight(path, version string, c config.Config) (n *journal.Night, aside string, end func(result string) error, err error) {
	j, err := journal.Open(path)
	if err != nil {
		return nil, "", nil, err
	}
	n, err = j.Begin(journal.Start{At: time.Now(), Version: version, Settings: c.Tree()})
	if err != nil {
		return nil, "", nil, errors.Join(err, j.Close())
	}
	return n, j.Aside, func(result string) error { return errors.Join(n.End(time.Now(), result), j.Close()) }, nil
}

// sameVisit is the time since the last proof within which the telescope has surely not been
// carried: if the axis point has moved since, the mirror has shifted in its cell.
const sameVisit = 2 * time.Hour

// remembered is what the newest night with this telescope, camera and mirror cell
// has taught; where there is none, what the newest night has taught of the person,
// who is the same with any telescope; or nil. An error is for the log alone, because the
// coach can learn all of it again.
func remembered(ctx context.Context, path string, c config.Config, now time.Time) (*coach.Memory, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	j, err := journal.Read(path)
	if err != nil {
		return nil, err
	}
	defer j.Close()
	nights, err := j.Nights(ctx)
	if err != nil {
		return nil, err
	}
	kept, err := json.Marshal(c.Tree()) // as the journal has it
	if err != nil {
		return nil, err
	}
	own, err := outfit(kept)
	if err != nil {
		return nil, err
	}
	turned := false
	var person *coach.Memory
	for _, n := range slices.Backward(nights) {
		theirs, err := outfit(n.Settings)
		if err != nil {
			continue // somebody else wrote them
		}
		if theirs != own && person != nil {
			continue
		}
		facts, err := j.Facts(ctx, n.ID)
		if err != nil {
			return nil, err
		}
		for _, f := range slices.Backward(facts) {
			turned = turned || theirs == own && f.Kind == "session" // by day, since then
			if f.Kind != "learned" {
				continue
			}
			var learned struct{ Memory coach.Memory }
			if err := json.Unmarshal(f.Body, &learned); err != nil {
				return nil, fmt.Errorf("reading what night %d taught: %w", n.ID, err)
			}
			if person == nil {
				person = &coach.Memory{Reactions: learned.Memory.Reactions, Heard: learned.Memory.Heard, Unhurried: learned.Memory.Unhurried}
			}
			if theirs != own {
				break
			}
			learned.Memory.Reactions, learned.Memory.Heard, learned.Memory.Unhurried = person.Reactions, person.Heard, person.Unhurried
			if turned || now.Sub(n.Began.Add(time.Duration(f.T*float64(time.Second)))) > sameVisit {
				learned.Memory.Axis = nil
			}
			return &learned.Memory, nil
		}
	}
	return person, nil
}

// outfit is what must be the same for a night to teach another: of its settings,
// telescope, camera and mirror cell.
func outfit(settings json.RawMessage) (string, error) {
	var tree map[string]map[string]any
	if err := json.Unmarshal(settings, &tree); err != nil {
		return "", err
	}
	delete(tree["camera"], "source")
	b, err := json.Marshal([]any{tree["telescope"], tree["camera"], tree["mirror_cell"]})
	return string(b), err
}

// lastNight counts the nights of a journal, and reports whether the last one was cut
// off on this visit to the telescope.
func lastNight(ctx context.Context, path string, now time.Time) (nights int, interrupted bool, err error) {
	j, err := journal.Read(path)
	if err != nil {
		return 0, false, err
	}
	defer j.Close()
	all, err := j.Nights(ctx)
	if err != nil || len(all) == 0 {
		return 0, false, err
	}
	last := all[len(all)-1]
	facts, err := j.Facts(ctx, last.ID)
	if err != nil || len(facts) == 0 || !last.Ended.IsZero() {
		return len(all), false, err
	}
	cut := last.Began.Add(time.Duration(facts[len(facts)-1].T * float64(time.Second)))
	return len(all), now.Sub(cut) < sameVisit, nil
}
