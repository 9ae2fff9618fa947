package main

import (
	"context"
	"strings"
	"testing"
	"time"
)

// A small computer without a battery for its clock wakes in 1970.
func TestClockThatForgot(t *testing.T) {
	k := &checking{now: time.Unix(120, 0)}
	if _, err := k.tryClock(context.Background()); err == nil || !strings.Contains(err.Error(), "it says 1970") {
		t.Errorf("got %v", err)
	}
	k.now = time.Date(2026, 3, 1, 22, 0, 0, 0, time.UTC)
	if said, err := k.tryClock(context.Background()); err != nil || said != "1 March 2026, 22:00" {
		t.Errorf("got %q, %v", said, err)
	}
}
