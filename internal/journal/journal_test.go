package journal

import (
	"context"
	"database/sql"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

type event struct {
	T      float64 `json:"t"`
	Event  string  `json:"event"`
	Action string  `json:"action,omitempty"`
	Result string  `json:"result,omitempty"`
}

var evening = time.Date(2031, 2, 3, 20, 15, 0, 0, time.UTC)

func open(t *testing.T, path string) *Journal {
	t.Helper()
	j, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	return j
}

func TestANightIsKept(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "a new folder", "what? 100%#.db")
	j := open(t, path)
	n, err := j.Begin(Start{At: evening, Version: "v1", Settings: map[string]int{"aperture_mm": 200}})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range []event{
		{T: 0, Event: "stage"}, {T: 0.1, Event: "measure"}, {T: 0.2, Event: "measure"}, {T: 0.3, Event: "tone"},
		{T: 0.7, Event: "measure"}, {T: 2, Event: "say", Action: "turn"}, {T: 9, Event: "say", Action: "done", Result: "aligned"},
	} {
		if err := n.Record(e); err != nil {
			t.Fatal(err)
		}
	}
	if err := n.End(evening.Add(time.Minute), "aligned"); err != nil {
		t.Fatal(err)
	}

	again, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	e, err := again.Night(ctx, 0)
	if err != nil {
		t.Fatal(err)
	}
	if !e.Began.Equal(evening) || e.Ended.Sub(e.Began) != time.Minute || e.Result != "aligned" || string(e.Settings) != `{"aperture_mm":200}` {
		t.Errorf("the night came back as %+v", e)
	}
	facts, err := again.Facts(ctx, e.ID)
	if err != nil {
		t.Fatal(err)
	}
	kinds := ""
	for _, f := range facts {
		kinds += f.Kind + " "
	}
	if kinds != "stage measure measure say say " {
		t.Errorf("kept: %s", kinds)
	}
	var claims int
	if err := again.db.QueryRow("SELECT count(*) FROM claim WHERE result = 'aligned' AND t = 9").Scan(&claims); err != nil || claims != 1 {
		t.Errorf("%d claims, %v", claims, err)
	}
	if _, err := again.Night(ctx, 7); !errors.Is(err, ErrNoNight) {
		t.Errorf("night 7: %v", err)
	}
}

// The network sets the clock in the middle of a night: forward by years, where it
// had forgotten the time, or back by an hour. The night lasts as long as it lasted.
func TestClockIsSet(t *testing.T) {
	for name, jump := range map[string]time.Duration{"forward": 5 * 365 * 24 * time.Hour, "back": -time.Hour, "not": 0} {
		j := open(t, filepath.Join(t.TempDir(), "j.db"))
		n, err := j.Begin(Start{At: evening})
		if err != nil {
			t.Fatal(err)
		}
		const took = 10 * time.Minute
		n.elapsed = func(time.Time, time.Time) time.Duration { return took }
		end := evening.Add(took + jump)
		if err := n.End(end, "aligned"); err != nil {
			t.Fatal(err)
		}
		e, err := j.Night(t.Context(), 0)
		if err != nil || !e.Ended.Equal(end) || e.Ended.Sub(e.Began) != took {
			t.Errorf("%s: from %v to %v, %v", name, e.Began, e.Ended, err)
		}
	}
}

// The settings stand in the data source name so that every pooled connection has
// them; here four are held at once.
func TestEveryConnectionHasTheSettings(t *testing.T) {
	ctx := context.Background()
	j := open(t, filepath.Join(t.TempDir(), "j.db"))
	for range 4 {
		c, err := j.db.Conn(ctx)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "1", "foreign_keys": "1", "busy_timeout": "5000"} {
			var got string
			if err := c.QueryRowContext(ctx, "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
				t.Errorf("%s is %q, %v; want %q", pragma, got, err, want)
			}
		}
	}
}

func TestTwoProgramsAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	nights := make([]*Night, 2)
	for i := range nights {
		var err error
		if nights[i], err = open(t, path).Begin(Start{At: evening}); err != nil {
			t.Fatal(err)
		}
	}
	const each = 200
	for i := range each {
		for _, n := range nights {
			if err := n.Record(event{T: float64(i), Event: "say"}); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, n := range nights {
		if err := n.End(evening, ""); err != nil {
			t.Fatal(err)
		}
		facts, err := n.j.Facts(context.Background(), n.id)
		if err != nil || len(facts) != each {
			t.Errorf("%d facts of %d, %v", len(facts), each, err)
		}
	}
}

func TestNotAnEvent(t *testing.T) {
	n, err := open(t, filepath.Join(t.TempDir(), "j.db")).Begin(Start{At: evening})
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []any{3, "say", struct{ T float64 }{1}, func() {}} {
		if n.Record(bad) == nil {
			t.Errorf("%T was taken for an event", bad)
		}
	}
	if err := n.End(evening, ""); err != nil {
		t.Error(err)
	}
}

func TestWhatIsNoJournal(t *testing.T) {
	dir := t.TempDir()
	if _, err := Read(filepath.Join(dir, "none.db")); !errors.Is(err, ErrNone) {
		t.Errorf("no file: %v", err)
	}
	text := filepath.Join(dir, "text.db")
	if err := os.WriteFile(text, []byte(strings.Repeat("this is no database\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "other.db")
	make := func(path, statement string) {
		db, err := sql.Open("sqlite", path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Exec(statement); err != nil {
			t.Fatal(err)
		}
	}
	make(other, "CREATE TABLE theirs (x)")
	later := filepath.Join(dir, "later.db")
	make(later, "CREATE TABLE night (x); PRAGMA user_version = 99")
	for path, want := range map[string]string{
		text: "some other program's", other: "some other program's", later: "format 99", dir: "--journal",
		filepath.Join(text, "under", "a.file"): "making a place",
	} {
		if j, err := Open(path); err == nil {
			t.Errorf("%s was opened", path)
			j.Close()
		} else if !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "choose another with --journal") {
			t.Errorf("%s: %v; want %q and the next step", path, err, want)
		}
	}
}

// A damaged file is reported, never a panic: bytes of a good one are overwritten.
func TestDamage(t *testing.T) {
	dir := t.TempDir()
	good := filepath.Join(dir, "good.db")
	fill(t, good, 200)
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 1))
	noticed := 0
	for range 40 {
		b := append([]byte(nil), whole...)
		for range 200 {
			b[100+random.IntN(len(b)-100)] = byte(random.Uint32())
		}
		path := filepath.Join(dir, "bad.db")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		j, err := Read(path)
		if err != nil {
			noticed++
			continue
		}
		_, readErr := j.Facts(context.Background(), 1)
		if readErr != nil || j.Check(context.Background()) != nil {
			noticed++
		}
		j.Close()
	}
	if noticed < 30 {
		t.Errorf("damage was noticed %d times of 40", noticed)
	}
}

func fill(t *testing.T, path string, facts int) {
	t.Helper()
	j, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	n, err := j.Begin(Start{At: evening})
	if err != nil {
		t.Fatal(err)
	}
	for i := range facts {
		if err := n.Record(event{T: float64(i), Event: "say", Action: "turn"}); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(n.End(evening, ""), j.Close()); err != nil {
		t.Fatal(err)
	}
}
