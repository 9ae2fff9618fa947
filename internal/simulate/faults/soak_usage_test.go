package faults

import (
	"bytes"
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"strconv"
)

// usage is what the program holds at the end of a night.
type usage struct {
	Heap       int // bytes that live
	Resident   int // bytes, as the kernel counts them
	Goroutines int
	Files      int // open ones
}

func (u usage) String() string {
	return fmt.Sprintf("heap %.1f MB, resident %.1f MB, %d goroutines, %d files",
		float64(u.Heap)/1e6, float64(u.Resident)/1e6, u.Goroutines, u.Files)
}

func (u usage) most(v usage) usage {
	return usage{
		max(u.Heap, v.Heap), max(u.Resident, v.Resident), max(u.Goroutines, v.Goroutines),
		max(u.Files, v.Files),
	}
}

func measure() usage {
	debug.FreeOSMemory() // collects, too
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	u := usage{Heap: int(m.HeapAlloc), Goroutines: runtime.NumGoroutine()}
	if list, err := os.ReadDir("/proc/self/fd"); err == nil {
		u.Files = len(list) - 1 // the folder itself
	}
	if b, err := os.ReadFile("/proc/self/statm"); err == nil {
		if words := bytes.Fields(b); len(words) > 1 {
			pages, _ := strconv.Atoi(string(words[1])) // the kernel writes numbers
			u.Resident = pages * os.Getpagesize()
		}
	}
	return u
}
