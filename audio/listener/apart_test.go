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
	for _, dep := range strings.Fields(string(out)) {
		if strings.HasPrefix(dep, "halocue/") && dep != "halocue/audio/listener" && dep != "halocue/audio/internal/sphinx" {
			t.Errorf("depends on %s", dep)
		}
	}
}
