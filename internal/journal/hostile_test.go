package journal

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// tree is every file of a folder and what is in it.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		all[e.Name()] = string(data)
	}
	return all
}

func same(a, b map[string]string) bool {
	if len(a) != len(b) {
		return false
	}
	for name, text := range a {
		if b[name] != text {
			return false
		}
	}
	return true
}

// Looking changes nothing, whatever the file is; nor does opening another program's.
func TestLookingChangesNothing(t *testing.T) {
	for name, prepare := range map[string]func(t *testing.T, path string){
		"ours":                   func(t *testing.T, path string) { fill(t, path, 20) },
		"empty":                  func(t *testing.T, path string) { os.WriteFile(path, nil, 0o600) },
		"text":                   func(t *testing.T, path string) { os.WriteFile(path, bytes.Repeat([]byte("dear diary "), 500), 0o600) },
		"theirs, of our version": func(t *testing.T, path string) { execute(t, path, "CREATE TABLE theirs (x); PRAGMA user_version = 1") },
		"theirs, with a log": func(t *testing.T, path string) {
			execute(t, path+".live", "PRAGMA journal_mode = WAL; CREATE TABLE theirs (x)", func() {
				for _, end := range []string{"", "-wal"} {
					data, err := os.ReadFile(path + ".live" + end)
					if err != nil {
						t.Fatal(err)
					}
					os.WriteFile(path+end, data, 0o600)
				}
			})
		},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "j.db")
		prepare(t, path)
		before := tree(t, dir)
		j, err := Read(path)
		if err == nil {
			if _, err := j.Nights(t.Context()); err != nil {
				t.Error(err)
			}
			j.Close()
		}
		if (err == nil) != (name == "ours") || name == "empty" && !errors.Is(err, ErrNone) {
			t.Errorf("%s: reading: %v", name, err)
		}
		if strings.HasPrefix(name, "theirs") || name == "text" {
			if j, err := Open(path); err == nil || !strings.Contains(err.Error(), "some other program") {
				t.Errorf("%s: opened %v, %v", name, j, err)
			}
		}
		after := tree(t, dir)
		delete(after, "j.db-shm") // the index of a log that is there: no data
		if !same(before, after) {
			t.Errorf("%s: files changed", name)
		}
	}
}

// A night that is killed before its journal has a table leaves one that is begun anew.
func TestDatabaseWithoutTables(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	execute(t, path, "PRAGMA journal_mode = WAL")
	if info, err := os.Stat(path); err != nil || info.Size() < 100 {
		t.Fatalf("%v, %v: the case proves nothing", info, err)
	}
	if _, err := Read(path); !errors.Is(err, ErrNone) {
		t.Errorf("reading: %v", err)
	}
	if fill(t, path, 3); t.Failed() {
		t.Error("it is not used again")
	}
}

func execute(t *testing.T, path, statement string, open ...func()) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(statement); err != nil {
		t.Fatal(err)
	}
	for _, f := range open {
		f()
	}
}

// A damaged journal gives what can be read of it; the next night stands in a new one,
// and nothing of the old is lost.
func TestDamagedJournals(t *testing.T) {
	dir := t.TempDir()
	good := filepath.Join(dir, "good.db")
	for range 12 {
		fill(t, good, 150)
	}
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(7, 7))
	aside, nights := 0, 0
	for i := range 30 {
		b := append([]byte(nil), whole...)
		page := random.IntN(len(b) / 4096)
		switch i % 3 {
		case 0: // a page of nothing
			clear(b[page*4096:][:4096])
		case 1: // a page of something else
			for k := range 4096 {
				b[page*4096+k] = byte(random.Uint32())
			}
		default: // the end is missing
			b = b[:max(page, 4)*4096]
		}
		path := filepath.Join(t.TempDir(), "j.db")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if j, err := Read(path); err == nil {
			start := time.Now()
			list, err := j.Nights(t.Context())
			for _, e := range list {
				if _, err := j.Facts(t.Context(), e.ID); err != nil {
					t.Errorf("%d: night %d: %v", i, e.ID, err)
				}
			}
			nights += len(list)
			if err != nil || time.Since(start) > time.Minute {
				t.Errorf("%d: %v, after %v", i, err, time.Since(start))
			}
			j.Close()
		}
		j, err := Open(path)
		if err != nil {
			t.Errorf("%d: %v", i, err)
			continue
		}
		n, err := j.Begin(Start{At: evening})
		if err == nil {
			err = n.End(evening, "")
		}
		if err := errors.Join(err, j.Check(t.Context())); err != nil {
			t.Errorf("%d: a night in what was opened: %v", i, err)
		}
		if j.Aside != "" {
			aside++
			if kept, err := os.ReadFile(j.Aside); err != nil || !bytes.Equal(kept, b) {
				t.Errorf("%d: not kept as it was: %v", i, err)
			}
		}
		j.Close()
	}
	t.Logf("%d of 30 put aside, %d nights of 360 read", aside, nights)
	if aside < 27 || nights < 200 {
		t.Errorf("%d of 30 put aside, %d nights of 360 read", aside, nights)
	}
}

// A second damaged one does not take the place of the first.
func TestAsideNames(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	for i := 1; i <= 3; i++ {
		if err := os.WriteFile(path, []byte(fmt.Sprint("CREATE TABLE night (", i)), 0o600); err != nil {
			t.Fatal(err)
		}
		j, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		j.Close()
		os.Remove(path)
		if text, err := os.ReadFile(fmt.Sprintf("%s.damaged-%d", path, i)); err != nil || !strings.HasSuffix(string(text), fmt.Sprint(i)) {
			t.Errorf("%d: %q, %v", i, text, err)
		}
	}
}

// What somebody else wrote into a journal is bounded, and costs no more than itself.
func TestHostileRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	fill(t, path, 3)
	execute(t, path, `INSERT INTO fact (night, t, kind, body) VALUES (1, 9, 'say', '"' || hex(zeroblob(1000000)) || '"'); UPDATE night SET settings = '{"telescope":' || hex(zeroblob(9))`)
	execute(t, path, "INSERT INTO night (began, version, settings) VALUES ('2031-02-03T20:15:00Z', hex(zeroblob(1000000)), '{}')")
	j, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	nights, err := j.Nights(t.Context())
	if err != nil || len(nights) != 1 || string(nights[0].Settings) != "{}" || !errors.Is(j.Damaged(), ErrDamaged) {
		t.Errorf("nights %v, %v, %v", nights, err, j.Damaged())
	}
	if facts, err := j.Facts(t.Context(), 1); err != nil || len(facts) != 3 {
		t.Errorf("%d facts, %v", len(facts), err)
	}
}

// A trigger would write what nobody asked for.
func TestTriggers(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	fill(t, path, 3)
	execute(t, path, "CREATE TRIGGER theirs AFTER INSERT ON fact BEGIN DELETE FROM fact; END")
	j, err := Open(path)
	if err != nil || j.Aside == "" {
		t.Fatalf("%+v, %v", j, err)
	}
	j.Close()
}

// The file that is held back for a full disk follows no link, and waits for no pipe.
func TestSpareFollowsNoLink(t *testing.T) {
	dir := t.TempDir()
	path, other := filepath.Join(dir, "j.db"), filepath.Join(dir, "other")
	if err := errors.Join(os.WriteFile(other, []byte("theirs"), 0o600), os.Symlink(other, path+"-spare")); err != nil {
		t.Fatal(err)
	}
	fill(t, path, 3)
	if text, err := os.ReadFile(other); err != nil || string(text) != "theirs" {
		t.Errorf("it holds %.20q, %v", text, err)
	}
	if err := syscall.Mkfifo(path+"-spare", 0o600); err != nil {
		t.Fatal(err)
	}
	fill(t, path, 3)
}
