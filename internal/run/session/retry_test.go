package session

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"halocue/config"
	"halocue/internal/run/parts"
)

// Where nothing can be said either, the reason is returned once, for whoever started it to
// print, and not printed before.
func TestGivesUpWithoutSound(t *testing.T) {
	c := config.Default()
	c.Sound.Output = filepath.Join(t.TempDir(), "none", "sound.wav")
	var out bytes.Buffer
	why := errors.New("there is no camera; plug one in")
	err := RetryUntilReady(context.Background(), &parts.World{Stderr: &out}, func(error) bool { return false },
		func() (config.Config, error) { return c, why })
	if err == nil || strings.Count(err.Error(), "no camera") != 1 || !strings.Contains(err.Error(), "sound.wav") || out.Len() > 0 {
		t.Errorf("%v; printed: %s", err, out.String())
	}
}
