package still

import (
	"testing"
)

func TestNaturalOrder(t *testing.T) {
	for _, pair := range [][2]string{{"a2", "a10"}, {"a9.png", "a09b.png"}, {"a", "b"}, {"x1y2", "x1y10"}, {"1", "a"}} {
		if natural(pair[0], pair[1]) >= 0 && natural(pair[1], pair[0]) <= 0 {
			t.Errorf("%q does not come before %q", pair[0], pair[1])
		}
	}
	if natural("a1", "a01") == 0 {
		t.Error("two names are taken for one")
	}
}
