package setup

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"

	"halocue/config"
)

// Whatever is answered, a set-up ends; and settings that were confirmed can be
// written, read again, and are in range.
func FuzzAnswers(f *testing.F) {
	f.Add("de\n200\n1000\nja\nyes\nno\n0\n3.75\n1\nM6\nno\n8\none bump\n4\ntwo bumps\n12\ntop\n6\nyes\n200\nslow\nquick\n52,5 N 13 24 O\nja")
	f.Add("8 inch\nf/5\nback\n1200\n" + strings.Repeat("skip\n", 14) + "9\n3\n10\n6:30\nyes")
	f.Add(strings.Repeat("skip\n", 16) + "1\n2000\n2\n4000\n1\n30\n?\nback\n\nyes")
	f.Add("'\n\"\\\"\n" + strings.Repeat("skip\n", 2) + "v4l2src ! \"x\\y\" 'z'\n" + strings.Repeat("skip\n", 12) + "yes")
	f.Fuzz(func(t *testing.T, lines string) {
		s := &script{answers: strings.Split(lines, "\n")}
		c, err := Run(context.Background(), s, Start{Config: config.Default()})
		if err != nil {
			if !errors.Is(err, io.EOF) && !errors.Is(err, ErrQuit) {
				t.Fatalf("%q: %v", lines, err)
			}
			return
		}
		if _, err := tomlOf(c); err != nil {
			t.Fatalf("%q: %v", lines, err)
		}
	})
}

// No answer is read as a number that is none, or lies outside the clock.
func FuzzNumbers(f *testing.F) {
	for _, s := range []string{"8 inch", "4 1/2", "8:30", "M6x0.75", "10-24", "1,200", "½", "half past 12", "20 tpi"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if x, err := millimetres(text); err == nil && !(x >= 0 && x < 1e16) {
			t.Errorf("%q is %v mm", text, x)
		}
		if x, err := english.clock(text); err == nil && !(x >= 0 && x <= 12) {
			t.Errorf("%q is %v o'clock", text, x)
		}
		if _, x, err := parseThread(text); err == nil && !(x >= 0) {
			t.Errorf("%q has a pitch of %v mm", text, x)
		}
	})
}
