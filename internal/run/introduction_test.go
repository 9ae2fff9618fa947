package run

import (
	"bytes"
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"halocue/internal/cue"
)

// The introduction is heard out before anything is asked for, though the star is seen from
// the first frame; and after a camera that has nothing to show it still comes first.
func TestIntroductionComesFirst(t *testing.T) {
	for _, limit := range []int{600, 3} {
		d := newDream(3)
		d.limit = limit
		var out bytes.Buffer
		p := parts(t, d, &out)
		p.Warn = []string{"cautions", "welcome"}
		if _, err := Frames(context.Background(), p, d.fps); err != nil {
			t.Fatal(err)
		}
		var codes []string
		asked := 0
		for line := range strings.Lines(out.String()) {
			var e sayEvent
			if json.Unmarshal([]byte(line), &e) != nil || e.Event != "say" {
				continue
			}
			codes = append(codes, e.Code)
			if e.Action != string(cue.Tell) && e.Action != string(cue.Warn) {
				asked++
			}
		}
		if len(codes) < 3 || !slices.Equal(codes[:2], p.Warn) || limit > 100 && asked == 0 {
			t.Errorf("%d frames: said %v", limit, codes)
		}
	}
}
