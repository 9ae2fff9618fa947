package cost

import (
	"bufio"
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var halocue = flag.String("halocue", "", "the program to measure, by its whole path")

const (
	frames = 900
	fps    = 30
)

// night is a way to run halocue, and the most that it may cost.
type night struct {
	name     string
	args     []string
	times    float64 // plain decoding
	resident float64 // MB
}

var most = []night{
	{"no voice", []string{"--sound", "none", "--voice", "none"}, 2.5, 120},
	{"first night", []string{"--sound", "none"}, 4, 120},
	{"second night", []string{"--sound", "none"}, 2.5, 120},
}

// BenchmarkNights fails where a night costs more than it may.
func BenchmarkNights(b *testing.B) {
	if *halocue == "" {
		b.Skip("make cost names the program")
	}
	dir := b.TempDir()
	pictures := draw(b, filepath.Join(dir, "night.mjpeg"))
	plain := decode(b, filepath.Join(dir, "night.mjpeg"))
	fmt.Printf("%-14s %8s %8s %12s %12s %14s\n%-14s %8.2f %8.1f\n", "", "CPU s", "times", "resident MB", "measured/s", "first word s",
		"plain decoding", plain, 1.0)
	for _, n := range most {
		c, err := run(append([]string{*halocue, "collimate"}, n.args...), dir, pictures)
		if err != nil {
			b.Fatalf("%s: %v", n.name, err)
		}
		fmt.Printf("%-14s %8.2f %8.1f %12.0f %12.1f %14.2f\n", n.name, c.cpu, c.cpu/plain, c.resident, c.rate, c.firstWord)
		if c.cpu > n.times*plain || c.resident > n.resident {
			b.Errorf("%s costs more than %g times plain decoding or %g MB", n.name, n.times, n.resident)
		}
	}
}

// draw makes a camera's stream of the short exposures of one star in testdata, on a noisy
// sky, 130 kB a frame, and returns its pictures.
func draw(b *testing.B, stream string) (pictures [][]byte) {
	ffmpeg(b, "-framerate", fmt.Sprint(fps), "-loop", "1", "-i", "../../testdata/stars/seeing-00-%02d.png",
		"-vf", "format=gray,pad=1280:960:320:240:color=0x101010,noise=alls=10:allf=t,format=yuvj420p",
		"-frames:v", fmt.Sprint(frames), "-c:v", "mjpeg", "-q:v", "4", "-f", "mjpeg", stream)
	data, err := os.ReadFile(stream)
	if err != nil {
		b.Fatal(err)
	}
	start := []byte{0xff, 0xd8, 0xff}
	for _, p := range bytes.Split(data, start)[1:] {
		pictures = append(pictures, append(start[:3:3], p...))
	}
	if len(pictures) != frames {
		b.Fatalf("%d pictures in the stream, not %d", len(pictures), frames)
	}
	return pictures
}

// ffmpeg runs FFmpeg and returns its processor time, s.
func ffmpeg(b *testing.B, args ...string) float64 {
	c := exec.Command("ffmpeg", append([]string{"-loglevel", "error", "-y"}, args...)...)
	if out, err := c.CombinedOutput(); err != nil {
		b.Fatalf("ffmpeg: %v: %s", err, out)
	}
	return processor(c)
}

// decode is the processor time of plain decoding, s: the least of three.
func decode(b *testing.B, stream string) float64 {
	once := func() float64 {
		return ffmpeg(b, "-threads", "1", "-f", "mjpeg", "-i", stream, "-pix_fmt", "gray", "-f", "null", "-")
	}
	return min(once(), once(), once())
}

func processor(c *exec.Cmd) float64 {
	return (c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds()
}

type cost struct {
	cpu       float64 // s, with what it started
	resident  float64 // MB, the most
	rate      float64 // frames measured a second
	firstWord float64 // s after the start
}

// run feeds the pictures to a command of halocue as a camera would. Nights share dir, as
// one person's nights do.
func run(command []string, dir string, pictures [][]byte) (c cost, err error) {
	command = append(command, "--camera", "-", "--aperture-mm", "200", "--focal-length-mm", "1000")
	cmd := exec.Command(command[0], command[1:]...)
	cmd.Env = append(os.Environ(), "HOME="+dir, "XDG_CONFIG_HOME="+dir, "XDG_STATE_HOME="+dir, "XDG_CACHE_HOME="+dir)
	var summary strings.Builder
	cmd.Stderr = &summary
	in, err := cmd.StdinPipe()
	if err != nil {
		return c, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return c, err
	}
	began := time.Now()
	if err := cmd.Start(); err != nil {
		return c, fmt.Errorf("starting halocue: %w; build it first (make build)", err)
	}
	words := make(chan struct{})
	go func() {
		defer close(words)
		lines := bufio.NewReader(out)
		if _, err := lines.ReadString('\n'); err == nil {
			c.firstWord = time.Since(began).Seconds()
		}
		_, _ = io.Copy(io.Discard, lines) // its end is the program's
	}()
	for i, p := range pictures {
		time.Sleep(time.Until(began.Add(time.Duration(i) * time.Second / fps)))
		if _, err = in.Write(p); err != nil {
			break
		}
		if i%fps == 0 {
			c.resident = highWater(cmd.Process.Pid)
		}
	}
	in.Close()
	<-words
	if err := errors.Join(err, cmd.Wait()); err != nil {
		return c, fmt.Errorf("%w: %s", err, summary.String())
	}
	var measured int
	for _, line := range strings.Split(summary.String(), "\n") {
		if _, err := fmt.Sscanf(line, "%d frames", &measured); err == nil {
			break
		}
	}
	c.cpu, c.rate = processor(cmd), float64(measured)*fps/frames
	return c, nil
}

// highWater is the most memory that a process has had resident, MB.
func highWater(pid int) float64 {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	var kb float64
	if _, after, ok := strings.Cut(string(status), "VmHWM:"); ok {
		_, _ = fmt.Sscan(after, &kb) // 0 if there is none
	}
	return kb / 1024
}
