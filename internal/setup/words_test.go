package setup

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

var english = tongueOf("en")

// Questions are for the ear: one short sentence each, in every language.
func TestWords(t *testing.T) {
	apart := []string{"say", "term", "names", "answers", "exists", "broken", "profile", "keep"}
	used := map[string]bool{}
	for _, id := range apart {
		used[id] = true
	}
	for _, q := range questions {
		used[q.id] = true
	}
	for code, w := range tongues {
		for id := range used {
			if slices.Contains(apart[:4], id) {
				continue
			}
			for _, key := range []string{"name", "ask", "help"} {
				if w.Sections[id][key] == "" {
					t.Errorf("%s: [%s] has no %s", code, id, key)
				}
			}
			ask, help := w.Sections[id]["ask"], w.Sections[id]["help"]
			if !strings.HasSuffix(ask, "?") || strings.Contains(ask, ". ") || len(strings.Fields(ask)) > 18 {
				t.Errorf("%s: [%s] asks more than one short question: %s", code, id, ask)
			}
			if !strings.HasSuffix(help, ".") || strings.Contains(help, ". ") || len(strings.Fields(help)) > 32 {
				t.Errorf("%s: [%s] helps with more than one sentence: %s", code, id, help)
			}
		}
		for id := range w.Sections {
			if !used[id] {
				t.Errorf("%s: [%s] is never said", code, id)
			}
		}
	}
}

var verb = regexp.MustCompile(`%(\[\d\])?[a-z]`)

// Each language has every text of English, with the same things filled in, and none is
// English still.
func TestEachLanguageIsWhole(t *testing.T) {
	for code, w := range tongues {
		same, all := 0, 0
		for section, texts := range english.Sections {
			for key := range w.Sections[section] {
				if _, known := texts[key]; !known && !strings.HasSuffix(key, "-few") && !strings.HasSuffix(key, "-other") { // of plurals
					t.Errorf("%s: [%s] %s is not in English", code, section, key)
				}
			}
			for key, text := range texts {
				own, there := w.Sections[section][key]
				if a, b := verbs(text), verbs(own); !there || !slices.Equal(a, b) {
					t.Errorf("%s: [%s] %s is filled in with %v, and in English with %v", code, section, key, b, a)
				}
				if all++; own == text {
					same++
				}
			}
		}
		if code != "en" && same > all/10 {
			t.Errorf("%s: %d of %d texts are English", code, same, all)
		}
	}
}

func verbs(text string) []string {
	found := verb.FindAllString(text, -1)
	for i, v := range found {
		found[i] = "%" + v[len(v)-1:]
	}
	slices.Sort(found)
	return found
}

// No answer steers two ways, here or with the English ones that are always understood.
func TestAnswersAreDistinct(t *testing.T) {
	for _, group := range [][]string{
		{"yes", "no", "skip", "back", "repeat", "help", "quit", "unknown"}, {"slow", "normal", "fast"}, {"learned", "slow", "steady", "quick"},
		{"top", "right", "bottom", "left"}, {"spring", "push-pull", "screws"}, {"north", "south", "east", "west"},
	} {
		for code, w := range tongues {
			owner := map[string]string{}
			for _, answer := range group {
				for _, t2 := range []*tongue{w, english} {
					for _, word := range strings.Split(t2.Sections["answers"][answer], "|") {
						if other := owner[word]; other != "" && other != answer {
							t.Errorf("%s: %q is %s and %s", code, word, other, answer)
						}
						owner[word] = answer
						if word != plain(word) {
							t.Errorf("%s: %q can never be answered", code, word)
						}
					}
				}
			}
		}
	}
}

// The language to begin in is that of the environment.
func TestLocale(t *testing.T) {
	for value, want := range map[string]string{"de_AT.UTF-8": "de", "pl_PL": "pl", "C": "en", "en_GB.UTF-8": "en", "ja_JP.UTF-8": "en", "": "en"} {
		if got := Locale([]string{"LANG=" + value}); got != want {
			t.Errorf("LANG=%s is %s, want %s", value, got, want)
		}
	}
	if got := Locale([]string{"LANG=de_DE", "LC_ALL=pl_PL.UTF-8"}); got != "pl" {
		t.Errorf("LC_ALL goes before LANG, and gives %s", got)
	}
}
