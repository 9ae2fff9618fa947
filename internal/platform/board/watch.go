package board

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// Need is something that a computer runs short of.
type Need string

// The needs that are watched.
const (
	Power  Need = "power"  // the supply's voltage
	Memory Need = "memory" // to run in
)

const (
	// scarce and ample are MemAvailable, bytes: memory is short below the first, and no
	// longer short above the second (judgement).
	scarce = 48 << 20
	ample  = 96 << 20
	// stuck and loose are the share of the last ten seconds, per cent, in which all
	// processes waited for memory: short above the first, no longer below the second
	// (judgement).
	stuck = 10
	loose = 2
)

// Watching says what is watched, and who is told.
type Watching struct {
	Root  string                                   // of the tree of files, "/" where it is empty
	Every time.Duration                            // between two looks; 5 s where it is 0
	Tell  func(n Need, short bool, details string) // called when it begins and when it is over
}

// Watch watches power and memory until ctx ends. Only Raspberry Pis report their voltage;
// on others it is not watched.
func Watch(ctx context.Context, w Watching) {
	w.Root = cmp.Or(w.Root, "/")
	if w.Every <= 0 {
		w.Every = 5 * time.Second
	}
	short := map[Need]bool{}
	tick := time.NewTicker(w.Every)
	defer tick.Stop()
	for {
		for need, look := range map[Need]func(string, bool) (bool, string){Power: power, Memory: memory} {
			if now, details := look(w.Root, short[need]); now != short[need] {
				short[need] = now
				w.Tell(need, now, details)
			}
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

// power reports whether the voltage is too low. The kernel's driver raspberrypi-hwmon
// has it as an alarm (Documentation/hwmon/raspberrypi-hwmon.rst); Raspberry Pi's own
// kernels also have the firmware's word, of which bit 0 is "under-voltage detected"
// (Raspberry Pi documentation, vcgencmd get_throttled). An alarm that came and went
// between two looks is one: the driver holds it for a while.
func power(root string, _ bool) (low bool, details string) {
	names, _ := filepath.Glob(filepath.Join(root, "sys/class/hwmon/*/name")) // the pattern is right
	for _, name := range names {
		if text(name) != "rpi_volt" {
			continue
		}
		if alarm := text(filepath.Join(filepath.Dir(name), "in0_lcrit_alarm")); alarm != "" {
			return alarm != "0", "the under-voltage alarm is " + alarm
		}
	}
	word := text(filepath.Join(root, "sys/devices/platform/soc/soc:firmware/get_throttled"))
	bits, err := strconv.ParseUint(strings.TrimPrefix(word, "0x"), 16, 32)
	if err != nil { // no Raspberry Pi
		return false, ""
	}
	return bits&1 != 0, "the firmware says 0x" + strconv.FormatUint(bits, 16)
}

// memory reports whether memory is short, by the memory that the kernel counts as
// available (proc(5), meminfo) and by the time for which processes wait for it
// (Documentation/accounting/psi.rst). It stays short until there is ample.
func memory(root string, was bool) (short bool, details string) {
	least, most := uint64(scarce), float64(stuck)
	if was {
		least, most = ample, loose
	}
	var available uint64
	_, after, _ := strings.Cut(text(filepath.Join(root, "proc/meminfo")), "MemAvailable:")
	kB := append(strings.Fields(after), "")[0]
	node := text(filepath.Join(root, "sys/devices/system/node/node0/meminfo"))
	switch {
	case kB != "":
		n, err := strconv.ParseUint(kB, 10, 44)
		if err != nil {
			return was, ""
		}
		available = n << 10
	case node != "": // a service sees only its own processes in /proc
		available = reclaimable(node)
	}
	if available > 0 && available < least {
		return true, fmt.Sprintf("%d MB are available", available>>20)
	}
	pressure := text(filepath.Join(root, "proc/pressure/memory"))
	if own, ok := strings.CutPrefix(text(filepath.Join(root, "proc/self/cgroup")), "0::"); ok && pressure == "" {
		pressure = text(filepath.Join(root, "sys/fs/cgroup", own, "memory.pressure"))
	}
	for _, line := range strings.Split(pressure, "\n") {
		rest, ok := strings.CutPrefix(line, "full avg10=")
		if !ok {
			continue
		}
		share, _, _ := strings.Cut(rest, " ")
		if s, err := strconv.ParseFloat(share, 64); err == nil && s > most {
			return true, fmt.Sprintf("%.0f %% of the time everything waits for memory", s)
		}
	}
	return false, fmt.Sprintf("%d MB are available", available>>20)
}

// text is what a file of the kernel says, or "" where there is no such file.
func text(path string) string {
	b, err := os.ReadFile(path)
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// reclaimable is about what the kernel counts as available, bytes, from a node's figures:
// what is free, what was read from files and not used of late, and half of the rest that
// can be given back.
func reclaimable(node string) uint64 {
	var sum uint64
	for name, share := range map[string]uint64{"MemFree:": 2, "Inactive(file):": 2, "Active(file):": 1, "SReclaimable:": 1} {
		if _, rest, ok := strings.Cut(node, " "+name); ok {
			if n, err := strconv.ParseUint(strings.Fields(rest + " ?")[0], 10, 44); err == nil {
				sum += n << 9 * share
			}
		}
	}
	return sum
}
