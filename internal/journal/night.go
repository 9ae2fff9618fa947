package journal

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"syscall"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Start is what is known when a night begins.
type Start struct {
	At       time.Time
	Version  string // of halocue
	Settings any    // telescope, camera and the rest; kept as JSON
}

// Indoors is the kind of a session by day, in an event "session"; without one it
// is a night under the stars.
const Indoors = "indoors"

// Night writes one night. Record never waits for the disk: a goroutine of the
// night's own does, until End.
type Night struct {
	j       *Journal
	id      int64
	queue   chan item
	done    chan struct{}
	measure float64 // when the last kept measurement, or look by day, was, s
	began   time.Time
	elapsed func(from, to time.Time) time.Duration // by a clock that cannot be set

	mu  sync.Mutex
	err error // the first failure; nothing is written after it
}

// item is a fact or a picture to be written, or a mark in the queue that is reported
// when reached.
type item struct {
	fact    fact
	picture *Picture
	reach   chan<- struct{}
}

type fact struct {
	T     float64 `json:"t"`
	Event string  `json:"event"`
	body  []byte
}

const (
	// waiting is how many facts may wait for a slow disk: some minutes of a night
	// (judgement).
	waiting = 4096
	// between is the least time between measurements that are kept, s, so that the card
	// in a small computer does not wear out; the transcript has them all (judgement).
	between = 0.5
)

// Begin begins a night.
func (j *Journal) Begin(s Start) (*Night, error) {
	settings, err := json.Marshal(s.Settings)
	if err != nil {
		return nil, fmt.Errorf("writing the settings into the journal: %w", err)
	}
	r, err := j.db.Exec("INSERT INTO night (began, version, settings) VALUES (?, ?, ?)", stamp(s.At), s.Version, string(settings))
	if err != nil {
		return nil, j.failed(err)
	}
	id, err := r.LastInsertId()
	if err != nil {
		return nil, j.failed(err)
	}
	n := &Night{j: j, id: id, queue: make(chan item, waiting), done: make(chan struct{}), measure: -between,
		began: s.At, elapsed: func(from, to time.Time) time.Duration { return to.Sub(from) }}
	j.reserve()
	go n.write()
	return n, nil
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// failed adds to an error what a person can do about the disk. SQLite's own error for a
// full disk becomes syscall.ENOSPC.
func (j *Journal) failed(err error) error {
	var said *sqlite.Error
	if errors.As(err, &said) && said.Code()&0xff == sqlite3.SQLITE_FULL {
		err = fmt.Errorf("%w: %w", syscall.ENOSPC, err)
	}
	return fmt.Errorf("writing the journal %s: %w; make room on the disk, or choose --journal none", j.path, err)
}

// Record keeps an event: anything that becomes a JSON object with t, in seconds,
// and event, its kind. The tone is not kept, and of the measurements two a second.
// It answers the first failure of all that was recorded so far.
func (n *Night) Record(event any) error {
	if err := n.failure(); err != nil {
		return err
	}
	body, err := json.Marshal(event)
	if err != nil {
		return fmt.Errorf("recording an event: %w", err)
	}
	f := fact{body: body}
	if err := json.Unmarshal(body, &f); err != nil || f.Event == "" {
		return fmt.Errorf("recording %.60s: %w", body, errors.Join(errors.New("it is no event with a time and a kind"), err))
	}
	measured := f.Event == "measure" || f.Event == "look"
	if f.Event == "tone" || measured && f.T < n.measure+between {
		return nil
	}
	if measured {
		n.measure = f.T
	}
	return n.send(item{fact: f})
}

func (n *Night) send(i item) error {
	select {
	case n.queue <- i:
		return nil
	default:
		return n.fail(n.j.failed(fmt.Errorf("the disk is %d facts behind", waiting)))
	}
}

// Flush waits until everything recorded has been written.
func (n *Night) Flush() error {
	reach := make(chan struct{})
	n.queue <- item{reach: reach}
	<-reach
	return n.failure()
}

// clockSet is the least difference between the wall clock and the monotonic clock that
// counts as a wall clock that was set during the night (judgement).
const clockSet = time.Minute

// End ends the night with its result ("" where there is none), after everything recorded.
// It must be called once, and no Record after it. Where the wall clock was set meanwhile
// (a small computer has none that runs while it is off) the night's start is corrected;
// that needs times as time.Now gives them, in Start and here.
func (n *Night) End(at time.Time, result string) error {
	close(n.queue)
	<-n.done
	defer n.j.release()
	began, took := n.began, n.elapsed(n.began, at)
	if off := at.Round(0).Sub(began.Round(0)) - took; off > clockSet || off < -clockSet {
		began = at.Round(0).Add(-took)
	}
	if _, err := n.j.db.Exec("UPDATE night SET began = ?, ended = ?, result = ? WHERE id = ?", stamp(began), stamp(at), result, n.id); err != nil {
		return errors.Join(n.failure(), n.j.failed(err))
	}
	return n.failure()
}

func (n *Night) write() {
	defer close(n.done)
	for i := range n.queue {
		if i.reach != nil {
			close(i.reach)
			continue
		}
		if n.failure() != nil {
			continue
		}
		var err error
		if p := i.picture; p != nil {
			_, err = n.j.db.Exec("INSERT OR REPLACE INTO picture (night, name, t, marks, png) VALUES (?, ?, ?, ?, ?)", n.id, p.Name, p.T, string(p.Marks), p.PNG)
		} else {
			_, err = n.j.db.Exec("INSERT INTO fact (night, t, kind, body) VALUES (?, ?, ?, ?)", n.id, i.fact.T, i.fact.Event, string(i.fact.body))
		}
		if err != nil {
			n.lose(n.fail(n.j.failed(err)))
		}
	}
}

func (n *Night) failure() error {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.err
}

// fail keeps the first failure and returns it.
func (n *Night) fail(err error) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.err = cmp.Or(n.err, err)
	return n.err
}
