// Package confine runs a decoder of data that nobody vouches for in a process of
// its own: this program again, or another that stands beside it, which answers to the
// decoder's name. That process has limits on memory, processor time and open files, and a system call filter where
// the kernel has them, so that it can compute and answer, and nothing else. When it
// dies, this program gets an error.
package confine

import (
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// Limits bound one process. The zero value sets no limit.
type Limits struct {
	Memory uint64        // bytes of address space beyond what the program has when it starts
	CPU    time.Duration // processor time, whole seconds
	Files  uint64        // open files
	Opens  bool          // it may open files to read
}

// Job is work for a process of its own.
type Job struct {
	name    string
	program string // what does it: a file's name; empty: this program
}

// prefix begins the name by which the program knows that it is such a process.
const prefix = "halocue: "

// Statuses of the process beside 0.
const (
	failed     = 3 // the work returned an error
	notLimited = 4 // the limits could not be set: nothing was read
)

// Register says what the process of that name does. It must be called while
// packages are initialised: in the process itself it does not return.
func Register(name string, l Limits, work func(in io.Reader, out io.Writer) error) Job {
	if os.Args[0] == prefix+name {
		os.Exit(run(l, work))
	}
	registered[name] = true
	return Job{name: name}
}

// registered are the jobs that this program can do itself.
var registered = map[string]bool{}

// In is a job of another of our programs. Where this one can do it too, as in tests,
// it does.
func In(program, name string) Job { return Job{name, program} }

// path is the program that does the job.
func (j Job) path() (string, error) {
	if j.program == "" || registered[j.name] {
		return "/proc/self/exe", nil // also after an upgrade has replaced the file
	}
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	for _, dir := range []string{".", "../libexec/halocue"} {
		path := filepath.Join(filepath.Dir(self), dir, j.program)
		if _, err = os.Stat(path); err == nil {
			return path, nil
		}
	}
	return "", fmt.Errorf("there is no %s beside %s", j.program, self)
}

func run(l Limits, work func(in io.Reader, out io.Writer) error) int {
	if l != (Limits{}) {
		if err := l.set(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return notLimited
		}
	}
	if err := work(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return failed
	}
	return 0
}

// set limits this process, for good.
func (l Limits) set() error {
	size, err := addressSpace()
	if err != nil {
		return err
	}
	for which, most := range map[int]uint64{
		unix.RLIMIT_AS: size + l.Memory, unix.RLIMIT_CPU: uint64(l.CPU / time.Second), unix.RLIMIT_NOFILE: l.Files,
		unix.RLIMIT_CORE: 0, unix.RLIMIT_FSIZE: 0,
	} {
		if err := limit(which, most); err != nil {
			return err
		}
	}
	return filter(l.Opens)
}

func limit(which int, most uint64) error {
	var now unix.Rlimit
	if err := unix.Prlimit(0, which, nil, &now); err != nil {
		return fmt.Errorf("limiting a decoder: %w", err)
	}
	most = min(most, now.Max) // somebody may have limited this program already
	if err := unix.Prlimit(0, which, &unix.Rlimit{Cur: most, Max: most}, nil); err != nil {
		return fmt.Errorf("limiting a decoder: %w", err)
	}
	return nil
}

// addressSpace is how much this process has now, bytes.
func addressSpace() (uint64, error) {
	text, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		return 0, fmt.Errorf("limiting a decoder: %w", err)
	}
	var pages uint64
	if _, err := fmt.Sscan(string(text), &pages); err != nil {
		return 0, fmt.Errorf("limiting a decoder: %w", err)
	}
	return pages * uint64(os.Getpagesize()), nil
}

// Process is a running job.
type Process struct {
	In  io.WriteCloser
	Out io.Reader

	cmd   *exec.Cmd
	said  *Said
	ended func() error
}

// Start starts the job; files become its descriptors from 3 on.
func (j Job) Start(files ...*os.File) (*Process, error) {
	path, err := j.path()
	if err != nil {
		return nil, fmt.Errorf("starting a decoder: %w; install halocue again", err)
	}
	p := &Process{cmd: &exec.Cmd{
		Path: path, Args: []string{prefix + j.name},
		Env: []string{"LC_ALL=C", "LD_LIBRARY_PATH=" + os.Getenv("LD_LIBRARY_PATH"),
			"MALLOC_ARENA_MAX=1", "OPENCV_LOG_LEVEL=SILENT", "OPENCV_FFMPEG_LOGLEVEL=-8",
			"OPENCV_IO_MAX_IMAGE_PIXELS=16777216"}, // what a camera sends as JPEG: size.MaxLive
		ExtraFiles:  files,
		SysProcAttr: &syscall.SysProcAttr{Setpgid: true}, // Ctrl-C is for this program
	}, said: &Said{}}
	p.cmd.Stderr = p.said
	in, err := p.cmd.StdinPipe()
	if err != nil {
		return nil, fmt.Errorf("starting a decoder: %w; close other programs", err)
	}
	out, err := p.cmd.StdoutPipe()
	if err == nil {
		err = p.cmd.Start()
	}
	if err != nil {
		return nil, fmt.Errorf("starting a decoder: %w; close other programs", err)
	}
	p.In, p.Out = in, out
	p.ended = sync.OnceValue(p.cmd.Wait)
	return p, nil
}

// Kill ends the process at once, from any goroutine: whoever reads from it is woken.
func (p *Process) Kill() { _ = p.cmd.Process.Kill() } // it may have ended by itself

// End ends the process and waits for it.
func (p *Process) End() {
	p.Kill()
	_ = p.ended() // killed, as it should be
}

// Died waits for the process, which has closed its output, and says why it ended.
func (p *Process) Died() error {
	_ = p.In.Close()
	err := p.ended()
	var exit *exec.ExitError
	switch {
	case err == nil:
		return errors.New("the decoder ended without an answer")
	case !errors.As(err, &exit):
		return fmt.Errorf("the decoder ended: %w", err)
	}
	status := exit.Sys().(syscall.WaitStatus) // so on every Unix
	said := p.said.String()
	switch {
	case strings.Contains(said, "out of memory") || strings.Contains(said, "cannot allocate memory") || strings.Contains(said, "bad_alloc"):
		return errors.New("it needs more memory than a picture may take; the decoder was ended, and nothing else")
	case status.Signaled() && (status.Signal() == syscall.SIGXCPU || status.Signal() == syscall.SIGKILL):
		return errors.New("it takes longer than a picture may take; the decoder was ended, and nothing else")
	case status.ExitStatus() == failed || status.ExitStatus() == notLimited:
		return errors.New(strings.TrimSpace(said))
	}
	return fmt.Errorf("the decoder crashed on it (%v), and nothing else", exit)
}

// Said keeps the first words that a process says.
type Said struct {
	mu   sync.Mutex
	text []byte
}

func (h *Said) Write(b []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.text = append(h.text, b[:min(len(b), 1024-len(h.text))]...)
	return len(b), nil
}

func (h *Said) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return string(h.text)
}
