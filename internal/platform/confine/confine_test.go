package confine

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// worker does what its input says, and answers with what came of it.
var worker = Register("test", Limits{Memory: 256 << 20, CPU: time.Second, Files: 16}, func(in io.Reader, out io.Writer) error {
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		var err error
		switch lines.Text() {
		case "open":
			_, err = os.Open("/etc/hostname")
		case "connect":
			_, err = net.Dial("tcp", "127.0.0.1:1")
		case "start":
			err = exec.Command("/bin/true").Run()
		case "signal":
			err = syscall.Kill(os.Getppid(), 0)
		case "code":
			_, err = syscall.Mmap(-1, 0, 4096, syscall.PROT_READ|syscall.PROT_EXEC, syscall.MAP_ANON|syscall.MAP_PRIVATE)
		case "compute":
			done := make(chan struct{}) // the runtime starts threads and collects garbage
			for range 50 {
				go func() { time.Sleep(time.Millisecond); done <- struct{}{} }()
			}
			for range 50 {
				<-done
			}
		case "crash":
			syscall.Kill(syscall.Getpid(), syscall.SIGSEGV)
			var nowhere *int
			*nowhere = 1
		case "spin":
			for n := uint64(0); ; n++ {
				spun = n
			}
		case "eat":
			var all [][]byte
			for range 1000 {
				b := make([]byte, 10<<20)
				for i := 0; i < len(b); i += 4096 {
					b[i] = 1
				}
				all = append(all, b)
			}
			fmt.Fprintln(out, len(all))
		case "fail":
			return fmt.Errorf("in words")
		}
		fmt.Fprintln(out, err)
	}
	return nil
})

// spun keeps the endless loop from being nothing.
var spun uint64

func ask(t *testing.T, what string) (answer string, died error) {
	t.Helper()
	p, err := worker.Start()
	if err != nil {
		t.Fatal(err)
	}
	defer p.End()
	io.WriteString(p.In, what+"\n")
	answer, err = bufio.NewReader(p.Out).ReadString('\n')
	if err != nil {
		return "", p.Died()
	}
	return strings.TrimSpace(answer), nil
}

func TestWhatTheProcessMayNotDo(t *testing.T) {
	for _, what := range []string{"open", "connect", "start", "signal", "code"} {
		if got, err := ask(t, what); err != nil || !strings.Contains(got, "not permitted") && !strings.Contains(got, "permission denied") {
			t.Errorf("%s: %q, %v", what, got, err)
		}
	}
	if got, err := ask(t, "compute"); got != "<nil>" || err != nil {
		t.Errorf("compute: %q, %v", got, err)
	}
}

// Whatever it dies of, here it is an error in words.
func TestDeaths(t *testing.T) {
	for what, say := range map[string]string{
		"crash": "crashed", "spin": "longer than", "eat": outOfMemory, "fail": "in words",
	} {
		if got, err := ask(t, what); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%s: %q, %v; want %q", what, got, err, say)
		}
	}
}

// A job of another program runs where that stands beside this one; else the error says
// what to do.
func TestAnotherProgram(t *testing.T) {
	job := In("halocue-other", "say")
	if _, err := job.Start(); err == nil || !strings.Contains(err.Error(), "no halocue-other beside") || !strings.Contains(err.Error(), "; install") {
		t.Errorf("without the program: %v", err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(filepath.Dir(self), "halocue-other")
	if err := os.WriteFile(other, []byte("#!/bin/sh\necho said\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	defer os.Remove(other)
	p, err := job.Start()
	if err != nil {
		t.Fatal(err)
	}
	defer p.End()
	if got, err := io.ReadAll(p.Out); string(got) != "said\n" {
		t.Errorf("it said %q, %v", got, err)
	}
}

// A program that needs devices writes to them and to its own folder, gains no rights and
// has a bound of memory.
func TestCommand(t *testing.T) {
	keeps, other := t.TempDir(), t.TempDir()
	const script = `echo 1 >"$1/a"; echo 1 >"$2/b"; mv "$1/a" "$1/c"; echo 1 >/dev/null && echo device; grep NoNewPrivs /proc/self/status; ulimit -d; ulimit -c; kill -0 $PPID && echo signal`
	out, err := Command("/bin/sh", keeps, "-c", script, "sh", keeps, other).Output()
	want := fmt.Sprintf("device\nNoNewPrivs:\t1\n%d\n0\n", mostData>>10)
	if exit := (*exec.ExitError)(nil); err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(out), want) {
		t.Errorf("%q, want %q", out, want)
	}
	if _, err := os.Stat(filepath.Join(keeps, "c")); err != nil {
		t.Error(err)
	}
	version, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, 0, 0, unix.LANDLOCK_CREATE_RULESET_VERSION)
	if errno != 0 {
		t.Skip("this kernel has no Landlock: writing is not held back")
	}
	if _, err := os.Stat(filepath.Join(other, "b")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("it wrote elsewhere: %v", err)
	}
	if version >= 6 && strings.HasSuffix(string(out), "signal\n") {
		t.Error("it may signal")
	}
}
