package journal

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestMain lets the test program be the one that is killed, or that fills a disk.
func TestMain(m *testing.M) {
	switch path := os.Getenv("JOURNAL_WRITER"); {
	case path == "":
		os.Exit(m.Run())
	default:
		if err := writeForEver(path); err != nil {
			fmt.Println("error:", err)
		}
	}
}

// writeForEver keeps facts and prints the number of each that is kept.
func writeForEver(path string) error {
	j, err := Open(path)
	if err != nil {
		return err
	}
	n, err := j.Begin(Start{At: evening})
	if err != nil {
		return err
	}
	for i := 1; ; i++ {
		if err := errors.Join(n.Record(event{T: float64(i), Event: "say", Action: strings.Repeat("x", 200)}), n.Flush()); err != nil {
			_ = n.End(evening.Add(time.Minute), "aligned") // says the same again
			return err
		}
		fmt.Println(i)
	}
}

func writer(t *testing.T, path string, prefix ...string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	args := append(prefix, self)
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Env = append(os.Environ(), "JOURNAL_WRITER="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, bufio.NewScanner(out)
}

// One journal, a writer killed at any instant, again and again: each fact that
// was said to be kept is there, and the file is whole.
func TestKilled(t *testing.T)      { killed(t, 20) }
func TestProveKilled(t *testing.T) { killed(t, 200) }

func killed(t *testing.T, kills int) {
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	path := filepath.Join(t.TempDir(), "j.db")
	ctx := context.Background()
	kept := map[int64]int{}
	// Killed at any instant from its start to well after its first fact, however
	// long this machine takes to start it.
	span := 3 * startUp(t)
	for range kills {
		cmd, lines := writer(t, path)
		time.AfterFunc(time.Duration(random.Int64N(int64(span))), func() { cmd.Process.Signal(syscall.SIGKILL) })
		last := 0
		for lines.Scan() {
			if _, err := fmt.Sscan(lines.Text(), &last); err != nil {
				t.Fatalf("the writer said %q", lines.Text())
			}
		}
		cmd.Wait() // it was killed
		j, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		e, err := j.Night(ctx, 0)
		if err == nil && last > 0 {
			kept[e.ID] = last
		}
		if err := errors.Join(j.Check(ctx), j.Close()); err != nil {
			t.Fatal(err)
		}
	}
	j := open(t, path)
	total := 0
	for id, last := range kept {
		facts, err := j.Facts(ctx, id)
		if err != nil || len(facts) < last {
			t.Errorf("night %d: %d facts of at least %d, %v", id, len(facts), last, err)
		}
		total += last
	}
	if len(kept) < kills/10 {
		t.Errorf("only %d of %d writers lived long enough to write: the test proves little", len(kept), kills)
	}
	t.Logf("%d kills, %d of them while writing, %d facts", kills, len(kept), total)
}

// startUp is how long a writer takes to its first fact, in a journal of its own.
func startUp(t *testing.T) time.Duration {
	t.Helper()
	begun := time.Now()
	cmd, lines := writer(t, filepath.Join(t.TempDir(), "j.db"))
	if !lines.Scan() {
		t.Fatalf("the writer wrote nothing: %v", lines.Err())
	}
	took := time.Since(begun)
	cmd.Process.Kill()
	cmd.Wait() // it was killed
	return took
}

// A real file system of 256 kB fills up: the error says what to do, what was written
// before stays, the file is whole, and how the night ended is still written: it does not
// look like a power cut.
func TestFullDisk(t *testing.T) {
	inside := []string{"unshare", "--map-root-user", "--mount", "sh", "-c", `mount -t tmpfs -o size=256k none "$1" && shift && "$@"; status=$?; cp "$0"/* "$0/../saved/" && exit $status`}
	if out, err := exec.Command("unshare", "--map-root-user", "--mount", "true").CombinedOutput(); err != nil {
		t.Skipf("this machine forbids a mount of one's own: %v %s", err, out)
	}
	dir := t.TempDir()
	small, saved := filepath.Join(dir, "small"), filepath.Join(dir, "saved")
	for _, d := range []string{small, saved} {
		if err := os.Mkdir(d, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	cmd, lines := writer(t, filepath.Join(small, "j.db"), append(inside, small, small)...)
	last, told := 0, ""
	for lines.Scan() {
		if message, failed := strings.CutPrefix(lines.Text(), "error: "); failed {
			told = message
		} else if _, err := fmt.Sscan(lines.Text(), &last); err != nil {
			t.Fatalf("the writer said %q", lines.Text())
		}
	}
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	if last == 0 || !strings.Contains(told, "full") || !strings.Contains(told, "make room on the disk") {
		t.Errorf("after %d facts it said %q", last, told)
	}
	j := open(t, filepath.Join(saved, "j.db"))
	facts, err := j.Facts(context.Background(), 1)
	if err := errors.Join(err, j.Check(context.Background())); err != nil || len(facts) < last {
		t.Errorf("%d facts of at least %d, %v", len(facts), last, err)
	}
	e, err := j.Night(context.Background(), 0)
	if err != nil || e.Lost != "disk-full" || e.Ended.IsZero() || e.Result != "aligned" {
		t.Errorf("the night is kept as %+v, %v", e, err)
	}
	t.Logf("%d facts, then: %s", last, told)
}

func BenchmarkRecord(b *testing.B) {
	j, err := Open(filepath.Join(b.TempDir(), "j.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer j.Close()
	n, err := j.Begin(Start{At: evening})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if err := errors.Join(n.Record(event{Event: "say"}), n.Flush()); err != nil {
			b.Fatal(err)
		}
	}
	if err := n.End(evening, ""); err != nil {
		b.Fatal(err)
	}
}
