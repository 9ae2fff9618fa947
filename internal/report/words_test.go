package report

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/pelletier/go-toml/v2"

	"halocue/prompts"
)

var field = regexp.MustCompile(`{{\.(\w+)}}`)

func mentions(m *i18n.Message) (names []string) {
	for _, f := range field.FindAllStringSubmatch(m.Other, -1) {
		if !slices.Contains(names, f[1]) {
			names = append(names, f[1])
		}
	}
	slices.Sort(names)
	return names
}

// Every language has the words of English, with the same fields; each can be said; each
// is said somewhere.
func TestEveryWordInEveryLanguage(t *testing.T) {
	english := map[string]*i18n.Message{}
	source := ""
	files, err := filepath.Glob("*.*")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !strings.HasSuffix(f, "_test.go") {
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			source += string(b)
		}
	}
	for _, tag := range prompts.Languages() {
		raw, err := texts.ReadFile("text/" + tag.String() + ".toml")
		if err != nil {
			t.Fatal(err)
		}
		file, err := i18n.ParseMessageFileBytes(raw, tag.String()+".toml", map[string]i18n.UnmarshalFunc{"toml": toml.Unmarshal})
		if err != nil {
			t.Fatal(err)
		}
		w, err := newWords(tag.String())
		if err != nil || w.Language() != tag {
			t.Fatalf("%s: %v", tag, err)
		}
		seen := map[string]bool{}
		same := 0
		for _, m := range file.Messages {
			if tag == prompts.Languages()[0] {
				english[m.ID] = m
				section, _, dotted := strings.Cut(m.ID, ".")
				if !strings.Contains(source, `"`+m.ID+`"`) && !(dotted && strings.Contains(source, `"`+section+`."`)) && !strings.Contains(source, `"`+section+`."+`) {
					t.Errorf("nothing says %q", m.ID)
				}
			}
			seen[m.ID] = true
			e := english[m.ID]
			if e == nil {
				t.Errorf("%s: %q is not in English", tag, m.ID)
				continue
			}
			if strings.TrimSpace(m.Other) == "" || !slices.Equal(mentions(m), mentions(e)) && m.ID != "took" {
				t.Errorf("%s: %q has the fields %v, English %v", tag, m.ID, mentions(m), mentions(e))
			}
			if m.Other == e.Other && len(field.ReplaceAllString(e.Other, "")) > 15 {
				same++
			}
			facts := facts{}
			for _, name := range mentions(e) {
				facts[name] = 3
			}
			for _, n := range []any{nil, 0, 1, 2, 5, 22} {
				if (n == nil) != (m.One == "") {
					continue
				}
				if got := w.plural(m.ID, n, facts); got == m.ID || strings.Contains(got, "{{") || strings.Contains(got, "no value") {
					t.Errorf("%s: %q for %v comes out as %q", tag, m.ID, n, got)
				}
			}
		}
		for id := range english {
			if !seen[id] {
				t.Errorf("%s lacks %q", tag, id)
			}
		}
		if same > 0 && tag != prompts.Languages()[0] {
			t.Errorf("%s: %d sentences are English", tag, same)
		}
		if n := len(strings.Fields(w.say("months"))); n != 12 {
			t.Errorf("%s has %d months", tag, n)
		}
	}
}

// Numbers and dates as each language writes them; what halocue does not speak is English.
func TestNumbersInALanguage(t *testing.T) {
	for language, want := range map[string]string{"en": "0.5, 3 February 2031, 1 minute 50 seconds", "de-AT": "0,5, 3. Februar 2031, 1 Minute 50 Sekunden",
		"pl": "0,5, 3 lutego 2031, 1 minuta 50 sekund", "xx": "0.5, 3 February 2031, 1 minute 50 seconds", "": "0.5, 3 February 2031, 1 minute 50 seconds"} {
		w, err := newWords(language)
		if err != nil {
			t.Fatal(err)
		}
		if got := w.num(0.5, 1) + ", " + w.date(evening) + ", " + w.duration(110); got != want {
			t.Errorf("%s: %q, want %q", language, got, want)
		}
	}
}
