package board

import (
	"context"
	"fmt"
	"testing"
	"time"
)

// What is told, in turn, as the files of a Raspberry Pi change.
func TestWatchTellsOnceWhenItBeginsAndOnceWhenItIsOver(t *testing.T) {
	const (
		hwmon    = "sys/class/hwmon/hwmon1/"
		firmware = "sys/devices/platform/soc/soc:firmware/get_throttled"
		meminfo  = "proc/meminfo"
		pressure = "proc/pressure/memory"
	)
	free := func(mb int) string {
		return fmt.Sprintf("MemTotal:        945512 kB\nMemFree:           20480 kB\nMemAvailable:   %7d kB\n", mb<<10)
	}
	const node = "sys/devices/system/node/node0/meminfo"
	nodes := func(free, cached int) string {
		return fmt.Sprintf("Node 0 MemTotal:  945512 kB\nNode 0 MemFree:  %d kB\nNode 0 Active(file):  %d kB\nNode 0 Inactive(file):  %d kB\nNode 0 SReclaimable: 2000 kB\n", free<<10, cached<<9, cached<<9)
	}
	stalled := func(full float64) string {
		return fmt.Sprintf("some avg10=40.00 avg60=1.00 avg300=0.00 total=1\nfull avg10=%.2f avg60=0.10 avg300=0.00 total=1\n", full)
	}
	type step struct{ file, text, told string }
	for name, steps := range map[string][]step{
		"alarm": {
			{hwmon + "name", "cpu_thermal\n", ""}, {hwmon + "name", "rpi_volt\n", ""}, {hwmon + "in0_lcrit_alarm", "0\n", ""},
			{hwmon + "in0_lcrit_alarm", "1\n", "power short"}, {hwmon + "in0_lcrit_alarm", "0\n", "power fine"},
			{hwmon + "in0_lcrit_alarm", "1\n", "power short"},
		},
		// 0x50000: it has been, and is no more.
		"firmware": {{firmware, "0\n", ""}, {firmware, "50005\n", "power short"}, {firmware, "50000\n", "power fine"}},
		"memory": {
			{meminfo, free(500), ""}, {meminfo, free(40), "memory short"}, {meminfo, free(60), ""}, {meminfo, free(30), ""},
			{meminfo, free(200), "memory fine"},
		},
		"pressure": {
			{meminfo, free(500), ""}, {pressure, stalled(1), ""}, {pressure, stalled(35), "memory short"},
			{pressure, stalled(5), ""}, {pressure, stalled(0.4), "memory fine"},
		},
		"a service's memory": {
			{node, nodes(20, 500), ""}, {node, nodes(20, 10), "memory short"}, {node, nodes(90, 10), "memory fine"},
			{"proc/self/cgroup", "0::/system.slice/x.service\n", ""}, {"sys/fs/cgroup/system.slice/x.service/memory.pressure", stalled(35), "memory short"},
		},
		"nothing that can be read": {{meminfo, "MemAvailable: much kB", ""}, {firmware, "?", ""}, {pressure, "full avg10=", ""}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			root, told := t.TempDir(), make(chan string, 8)
			ctx, stop := context.WithCancel(context.Background())
			ended := make(chan struct{})
			go func() {
				defer close(ended)
				Watch(ctx, Watching{Root: root, Every: time.Millisecond, Tell: func(n Need, short bool, _ string) {
					told <- string(n) + map[bool]string{true: " short", false: " fine"}[short]
				}})
			}()
			for _, s := range steps {
				put(t, root, s.file, s.text)
				wait := 30 * time.Second
				if s.told == "" { // long enough for many looks
					wait = 30 * time.Millisecond
				}
				select {
				case got := <-told:
					if got != s.told {
						t.Errorf("with %q in %s: %q, want %q", s.text, s.file, got, s.told)
					}
				case <-time.After(wait):
					if s.told != "" {
						t.Errorf("with %q in %s nothing was told, want %q", s.text, s.file, s.told)
					}
				}
			}
			stop()
			<-ended
		})
	}
}
