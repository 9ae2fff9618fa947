package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"halocue/internal/run/parts"
)

// computer is a folder with the kernel's files of a small computer, and what
// becomes of them.
type computer struct {
	t    *testing.T
	root string
}

func newComputer(t *testing.T) computer {
	c := computer{t, t.TempDir()}
	c.put("sys/class/leds/ACT/brightness", "0")
	c.put("sys/class/leds/ACT/trigger", "none timer [mmc0]")
	c.put("sys/class/hwmon/hwmon0/name", "rpi_volt")
	c.put("sys/class/hwmon/hwmon0/in0_lcrit_alarm", "0")
	c.put("proc/meminfo", "MemAvailable: 500000 kB")
	return c
}

func (c computer) put(name, text string) {
	path := filepath.Join(c.root, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		c.t.Fatal(err)
	}
	if err := os.WriteFile(path+"~", []byte(text), 0o600); err != nil {
		c.t.Fatal(err)
	}
	if err := os.Rename(path+"~", path); err != nil {
		c.t.Fatal(err)
	}
}

func (c computer) text(name string) string {
	b, err := os.ReadFile(filepath.Join(c.root, name))
	if err != nil {
		c.t.Fatal(err)
	}
	return string(b)
}

// The lights are out while it guides. SIGTERM ends the night in words, and the
// lights are what they were.
func TestDarkUntilSIGTERM(t *testing.T) {
	c := newComputer(t)
	said := &heard{}
	stdin, typing := io.Pipe()
	defer typing.Close()
	a := &app{parts.World{Stdin: stdin, Stdout: said, Stderr: said, Env: []string{"HOME=" + t.TempDir()}, Root: c.root}}
	ctx := interruptible(func() {})
	status := make(chan int, 1)
	go func() {
		status <- a.run(ctx, []string{"guide", "--dark", "--camera", "virtual:3", "--sound", "none", "--voice", "none", "--speed-wpm", "450"})
	}()
	said.until(t, welcomed, 1)
	if got := c.text("sys/class/leds/ACT/trigger"); got != "none" {
		t.Errorf("while it guides the light has the trigger %q", got)
	}
	a.cutShort() // as a second Ctrl-C does, after which nothing else is done
	if got := c.text("sys/class/leds/ACT/trigger"); got != "mmc0" {
		t.Errorf("cut short, the light has the trigger %q", got)
	}
	c.put("sys/class/leds/ACT/trigger", "none")
	if err := syscall.Kill(os.Getpid(), syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if got := <-status; got != statusOK || !strings.Contains(said.text(), "Good night.") {
		t.Errorf("status %d after:\n%s", got, said.text())
	}
	if got := c.text("sys/class/leds/ACT/trigger"); got != "mmc0" {
		t.Errorf("at the end the light has the trigger %q", got)
	}
}

// Power and memory that run short are said once each time, and the night goes on.
func TestShortOfPowerAndMemory(t *testing.T) {
	t.Parallel() // it waits by the clock
	c := newComputer(t)
	said, _, _, stop := guidedOn(t, c.root, "--camera", "virtual:3", "--language", "de")
	const alarm = "sys/class/hwmon/hwmon0/in0_lcrit_alarm"
	c.put(alarm, "1")
	c.put("proc/meminfo", "MemAvailable: 20000 kB")
	said.until(t, "Zu wenig Strom.", 1)
	said.until(t, "Wenig Arbeitsspeicher.", 1)
	stop()
	if n := strings.Count(said.text(), "Zu wenig Strom."); n != 1 || !strings.Contains(said.text(), "result: none") {
		t.Errorf("said %d times:\n%s", n, said.text())
	}
}
