package prompts

import (
	"fmt"
	"strings"
	"testing"

	"golang.org/x/text/feature/plural"
)

// The form of "turns" for each number is that of the Unicode CLDR plural rules,
// as golang.org/x/text has them, which is another implementation than the one
// that chooses the words.
func TestPluralsFollowCLDR(t *testing.T) {
	for _, tag := range Languages() {
		p, err := New(tag, Normal)
		if err != nil {
			t.Fatal(err)
		}
		m := messages(t, tag)["amount.turns"]
		forms := map[plural.Form]string{plural.One: m.One, plural.Few: m.Few, plural.Many: m.Many, plural.Other: m.Other}
		for n := 3; n <= 100; n++ {
			form := plural.Cardinal.MatchPlural(tag, n, 0, 0, 0, 0)
			want := strings.ReplaceAll(forms[form], "{{.N}}", fmt.Sprint(n))
			if got, err := p.amount(float64(n)); err != nil || got != want {
				t.Errorf("%s: %d turns: %q, %v; CLDR's form is %q", tag, n, got, err, want)
			}
		}
	}
}

// Some of the same, written out by hand (CLDR 46, language plural rules, Polish:
// few for 2-4, 22-24, ..., many for the rest).
func TestPolishTurns(t *testing.T) {
	p, err := New(Languages()[7], Normal)
	if err != nil {
		t.Fatal(err)
	}
	for n, want := range map[int]string{3: "3 obroty", 5: "5 obrotów", 12: "12 obrotów", 22: "22 obroty", 25: "25 obrotów"} {
		if got, err := p.amount(float64(n)); err != nil || got != want {
			t.Errorf("%d: %q, %v; want %q", n, got, err, want)
		}
	}
}
