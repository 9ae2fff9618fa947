package prompts

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"

	"halocue/audio/command"
)

// messages reads a language's file as the translator wrote it.
func messages(t *testing.T, tag language.Tag) map[string]*i18n.Message {
	t.Helper()
	path := "text/" + tag.String() + ".toml"
	raw, err := files.ReadFile(path)
	if err != nil {
		t.Fatalf("no words in %s: %v", tag, err)
	}
	file, err := i18n.ParseMessageFileBytes(raw, path, map[string]i18n.UnmarshalFunc{"toml": toml.Unmarshal})
	if err != nil {
		t.Fatal(err)
	}
	list := map[string]*i18n.Message{}
	for _, m := range file.Messages {
		list[m.ID] = m
	}
	return list
}

// example makes a cue of an entry with everything that its words can mention.
func example(e *Entry, variant string) Cue {
	c := Cue{Code: e.Code, Action: e.Action, Knob: "left-hand", Direction: variant, Turns: 0.06,
		Args: map[string]any{"waves": 0.045, "ratio": 3.0, "moved": "right-hand", "score": 70, "told": 3.8, "seen": 7.5, "tighten": "Q", "loosen": "A",
			"star": "Vega", "azimuth": 359.0, "altitude": 4.0}}
	if e.Code == "done" {
		c.Direction, c.Result = "", variant
	} else if e.Action == "turn" && variant == "" {
		c.Direction = "tighten"
	}
	return c
}

// Every code has words in every language, at every verbosity, with numbers and
// without; a language file says nothing that is not in the catalogue.
func TestEveryCodeInEveryLanguage(t *testing.T) {
	for _, tag := range Languages() {
		for _, v := range []Verbosity{Brief, Normal, Full} {
			p, err := New(tag, v)
			if err != nil {
				t.Fatal(err)
			}
			for _, code := range Codes() {
				entry, err := Lookup(code)
				if err != nil {
					t.Fatal(err)
				}
				variants := entry.Variants
				if variants == nil {
					variants = []string{""}
				}
				for _, variant := range variants {
					cue := example(entry, variant)
					checkText(t, p, cue)
					cue.Args = nil
					checkText(t, p, cue)
					if e := entry.Action; e != "turn" && e != "lock" {
						bare := Cue{Code: code, Direction: cue.Direction, Result: cue.Result}
						checkText(t, p, bare) // there are words without any argument too
					}
				}
			}
		}
	}
}

func checkText(t *testing.T, p *Phrases, c Cue) {
	t.Helper()
	text, amount, err := p.Text(c)
	switch {
	case err != nil:
		t.Errorf("%s: %v", p.tag, err)
	case text == "" || strings.ContainsAny(text, "{}<>|_\n") || strings.Contains(text, "  "):
		t.Errorf("%s: %s: bad words %q", p.tag, c.Code, text)
	case c.Action == "turn" && amount == "":
		t.Errorf("%s: %s: a turn without an amount: %q", p.tag, c.Code, text)
	case regexp.MustCompile(`\d/\d|%`).MatchString(text):
		t.Errorf("%s: %s: %q: fractions are written as words, engines spell 1/8 out", p.tag, c.Code, text)
	}
}

// The file of a language has the messages that English has, no more, no fewer
// (brief and full may be left out), with the same fields in them.
func TestFilesAgree(t *testing.T) {
	want := messages(t, language.English)
	optional := regexp.MustCompile(`\.(brief|full)$`)
	field := regexp.MustCompile(`{{\.\w+}}`)
	quoted := regexp.MustCompile(`“[^”]*”`) // what a person may say
	for _, tag := range Languages() {
		got := messages(t, tag)
		for id, m := range want {
			g, ok := got[id]
			if !ok {
				if !optional.MatchString(id) {
					t.Errorf("%s: %q is missing", tag, id)
				}
				continue
			}
			for _, f := range append(field.FindAllString(m.Other, -1), quoted.FindAllString(m.Other, -1)...) {
				if !strings.Contains(g.Other, f) {
					t.Errorf("%s: %q lacks %s: %q", tag, id, f, g.Other)
				}
			}
		}
		for id := range got {
			if _, ok := want[id]; !ok {
				t.Errorf("%s: %q is not a message of the catalogue", tag, id)
			}
		}
	}
}

// What a person is told to say is a command by voice.
func TestWordsToSayAreCommands(t *testing.T) {
	all, _ := command.Sentences()
	said := 0
	for id, m := range messages(t, language.English) {
		for _, quote := range regexp.MustCompile(`“([^”]*)”`).FindAllStringSubmatch(m.Other, -1) {
			if said++; !slices.Contains(all, strings.ReplaceAll(quote[1], ",", "")) {
				t.Errorf("%s: %q is no command", id, quote[1])
			}
		}
	}
	if said < 5 {
		t.Errorf("only %d commands are told", said)
	}
}

// Each message of the English file can be reached by a key of the catalogue.
func TestEnglishHasNothingElse(t *testing.T) {
	known := regexp.MustCompile(`^((amount|result|times|fraction|knob|lock-name|compass|rough-next)\.|fists$)`)
	keys := map[string]bool{}
	for _, code := range Codes() {
		e, err := Lookup(code)
		if err != nil {
			t.Fatal(err)
		}
		bases := []string{e.Code}
		if len(e.Variants) > 0 {
			bases = nil
			for _, v := range e.Variants {
				bases = append(bases, e.Code+"."+v)
			}
		}
		for _, key := range bases {
			for _, suffix := range []string{"", ".brief", ".normal", ".full", ".plain"} {
				keys[key+suffix] = true
			}
		}
	}
	for id := range messages(t, language.English) {
		if !known.MatchString(id) && !keys[id] {
			t.Errorf("%q is not a message of the catalogue", id)
		}
	}
}

// The catalogue is consistent in itself.
func TestCatalogue(t *testing.T) {
	actions := "turn stop recentre defocus other-side lock wait done warn tell half-turn" // half-turn: by day only
	for _, code := range Codes() {
		e, err := Lookup(code)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(" "+actions+" ", " "+string(e.Action)+" ") {
			t.Errorf("%s: action %q is not in the outside contract", code, e.Action)
		}
		for _, s := range e.SilencedBy {
			if _, err := Lookup(s); err != nil {
				t.Errorf("%s: silenced by %q, which is not in the catalogue", code, s)
			}
		}
		hands := "turn recentre defocus other-side lock wait half-turn"
		if strings.Contains(" "+hands+" ", " "+string(e.Action)+" ") && e.Class != Instruct {
			t.Errorf("%s: asks the hands to %s, but is of class %d, not Instruct", code, e.Action, e.Class)
		}
		if e.Class == Danger && (len(e.SilencedBy) > 0 || e.Stale > 0 || e.Quiet > 0) {
			t.Errorf("%s: a danger is never silenced nor stale", code)
		}
		if slices.Contains(e.Cuts, Danger) {
			t.Errorf("%s: nothing interrupts a danger", code)
		}
	}
}

// Danger is said in the same words at any verbosity.
func TestDangerIsNeverShortened(t *testing.T) {
	for _, tag := range Languages() {
		got := map[string]bool{}
		for _, v := range []Verbosity{Brief, Normal, Full} {
			p, err := New(tag, v)
			if err != nil {
				t.Fatal(err)
			}
			text, _, err := p.Text(Cue{Code: "too-bright"})
			got[fmt.Sprint(text, err)] = true
		}
		if len(got) != 1 {
			t.Errorf("%s: %v", tag, got)
		}
	}
}
