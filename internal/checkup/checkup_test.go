package checkup

import (
	"context"
	"strings"
	"testing"
	"time"

	"halocue/config"
	"halocue/internal/run/parts"
)

// A small computer without a battery for its clock wakes in 1970.
func TestClockThatForgot(t *testing.T) {
	now := time.Unix(120, 0)
	say, _, err := parts.Sentences(config.Default().Voice)
	if err != nil {
		t.Fatal(err)
	}
	k := &checkup{world: &parts.World{Clock: func() time.Time { return now }}, say: say}
	if _, err := k.tryClock(context.Background()); err == nil || !strings.Contains(err.Error(), "it says 1970") {
		t.Errorf("got %v", err)
	}
	now = time.Date(2026, 3, 1, 22, 0, 0, 0, time.UTC)
	if said, err := k.tryClock(context.Background()); err != nil || said != "1 March 2026, 22:00" {
		t.Errorf("got %q, %v", said, err)
	}
}
