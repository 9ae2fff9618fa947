package plain

import "testing"

func TestText(t *testing.T) {
	for in, want := range map[string]string{
		"CCD Simulator":         "CCD Simulator",
		"Gro\u00dfe \u661f":     "Gro\u00dfe \u661f",
		"a\u009b31m\u202e\n\tb": `a\u009b31m\u202e\u000a\u0009b`,
		"\x1b[2J":               `\u001b[2J`,
		"cut \xff \xe2":         `cut \xff \xe2`,
		"tag \U000e0041":        `tag \U000e0041`,
		"zero\u200bwidth\u2028": `zero\u200bwidth\u2028`,
	} {
		if got := Text(in, 50); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
	if got := Text("0123456789\n0123456789", 15); got != `0123456789\u000a0123...` {
		t.Errorf("cut to %q", got)
	}
}

func TestVisible(t *testing.T) {
	for in, want := range map[string]bool{"": false, " ": false, "\u200b": false, "\u2060\u00ad": false, "left": true, "1": true, "\u5de6": true} {
		if Visible(in) != want {
			t.Errorf("%q is visible: %v, want %v", in, !want, want)
		}
	}
}
