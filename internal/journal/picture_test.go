package journal

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func TestPicturesAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.db")
	j := open(t, path)
	n, err := j.Begin(Start{At: evening})
	if err != nil {
		t.Fatal(err)
	}
	marks := map[string]int{"radius": 7}
	if err := errors.Join(
		n.Picture("before", 2, marks, []byte("first")), n.Picture("after", 9, marks, []byte("too early")), n.Picture("after", 8, marks, []byte("last")),
	); err != nil {
		t.Fatal(err)
	}
	if err := n.Picture("huge", 3, marks, make([]byte, mostPicture+1)); err == nil {
		t.Error("a huge picture was taken")
	}
	if err := n.End(evening, ""); err != nil {
		t.Fatal(err)
	}
	got, err := j.Pictures(t.Context(), 1)
	if err != nil || len(got) != 2 || got[0].Name != "before" || got[1].T != 8 || string(got[1].PNG) != "last" || string(got[1].Marks) != `{"radius":7}` {
		t.Errorf("%+v, %v", got, err)
	}
	if _, err := os.Stat(path + "-spare"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the spare file after the end: %v", err)
	}
}

// A journal of format 1, as it stands on people's disks, is read without being touched,
// and brought to today's format when the next night is written.
func TestOldJournalsAreKept(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "j.db")
	execute(t, path, schema+`PRAGMA user_version = 1;
		INSERT INTO night VALUES (1, '2031-02-03T20:15:00Z', '2031-02-03T20:16:00Z', 'v1', 'aligned', '{}');
		INSERT INTO fact VALUES (1, 1, 2.5, 'say', '{"t":2.5,"event":"say","action":"turn"}');`)
	check := func(j *Journal) {
		t.Helper()
		nights, err := j.Nights(t.Context())
		if err != nil || len(nights) < 1 || nights[0].Result != "aligned" || nights[0].Lost != "" || !nights[0].Began.Equal(evening) {
			t.Errorf("%+v, %v", nights, err)
		}
		if facts, err := j.Facts(t.Context(), 1); err != nil || len(facts) != 1 || facts[0].T != 2.5 {
			t.Errorf("%+v, %v", facts, err)
		}
		if p, err := j.Pictures(t.Context(), 1); err != nil || p != nil {
			t.Errorf("%v, %v", p, err)
		}
	}
	before := tree(t, dir)
	j, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	check(j)
	j.Close()
	if !same(before, tree(t, dir)) {
		t.Error("reading changed it")
	}
	j = open(t, path)
	check(j)
	n, err := j.Begin(Start{At: evening})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(n.Picture("after", 1, nil, []byte("png")), n.End(evening, "")); err != nil {
		t.Fatal(err)
	}
	p, err := j.Pictures(t.Context(), 2)
	if err != nil || len(p) != 1 || !bytes.Equal(p[0].PNG, []byte("png")) {
		t.Errorf("%v, %v", p, err)
	}
	check(j)
	var version int
	if err := j.db.QueryRow("PRAGMA user_version").Scan(&version); err != nil || version != format {
		t.Errorf("format %d, %v", version, err)
	}
}
