package visiontest

import (
	"runtime"
	"testing"
)

// Bounded does work on what a stranger sent, and fails where that allocates more than
// 200 MB.
func Bounded(t testing.TB, work func()) {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	work()
	runtime.ReadMemStats(&after)
	if took := (after.TotalAlloc - before.TotalAlloc) >> 20; took > 200 {
		t.Errorf("it allocated %d MB", took)
	}
}
