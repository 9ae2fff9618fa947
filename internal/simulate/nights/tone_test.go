package nights

import (
	"testing"
)

// The tone says what can be vouched for: it does not flatter, it answers a turn at once,
// and it is at its top when the mirror is proved true.
func TestToneIsHonest(t *testing.T)      { toneIsHonest(t, few) }
func TestProveToneIsHonest(t *testing.T) { toneIsHonest(t, many) }

func toneIsHonest(t *testing.T, count int) {
	rs, err := RunAll(320001, count, Options{Draw: DrawOptions{Width: 960, Height: 720, Pixel: 0.005}, Person: Mixed})
	if err != nil {
		t.Fatal(err)
	}
	h := Summarise(rs).Heard
	if h.Off == 0 || h.Early > 0 || count == many && (percent(h.Flattered, h.Off) > 2 || percent(h.Rose, h.Helped) < 95 || percent(h.Top, h.Proofs) < 95) {
		t.Errorf("%+v", h)
	}
}
