package listener

import (
	"os/exec"
	"strings"
	"testing"
)

// The listener shares nothing with what makes the sound.
func TestSharesNothingButAir(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "halocue/audio/listener").Output()
	if err != nil {
		t.Fatal(err)
	}
	mine := map[string]bool{"halocue/audio/listener": true, "halocue/audio/internal/sphinx": true, "halocue/audio/internal/endpoint": true}
	for _, dep := range strings.Fields(string(out)) {
		if strings.HasPrefix(dep, "halocue/") && !mine[dep] {
			t.Errorf("depends on %s", dep)
		}
	}
}
