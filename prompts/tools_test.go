package prompts

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

var filled = regexp.MustCompile(`%(\.\d)?[a-z]`)

// Each language has every sentence of the tools, with the same things filled in in the same
// order, and none is left in English.
func TestToolSentencesInEveryLanguage(t *testing.T) {
	english, err := NewSentences("en")
	if err != nil {
		t.Fatal(err)
	}
	for _, tag := range Languages() {
		s, err := NewSentences(tag.String())
		if err != nil {
			t.Error(err)
			continue
		}
		same, all := 0, 0
		for section, texts := range english.Sections {
			if len(s.Sections[section]) != len(texts) {
				t.Errorf("%s: [%s] has %d sentences, and English %d", tag, section, len(s.Sections[section]), len(texts))
			}
			for key, text := range texts {
				own, there := s.Sections[section][key]
				if !there || !slices.Equal(filled.FindAllString(text, -1), filled.FindAllString(own, -1)) {
					t.Errorf("%s: %s.%s is %q, and in English %q", tag, section, key, own, text)
				}
				if all++; own == text {
					same++
				}
				if section == "star" && key == "numbers" && strings.Count(own, "|") != 9 {
					t.Errorf("%s: there are ten numbers to nine, not %q", tag, own)
				}
			}
		}
		if tag.String() != "en" && same > all/10 {
			t.Errorf("%s: %d of %d sentences are English", tag, same, all)
		}
	}
}

// Numbers have the decimal sign of their language; whole ones and the rest stay.
func TestSentencesHaveTheDecimalSign(t *testing.T) {
	for code, want := range map[string]string{"en": "1.5 of it, 2.0 at most", "de": "1,5 davon, höchstens 2,0", "de-AT": "1,5 davon, höchstens 2,0", "pl": "1,5 z niej, najwyżej 2,0"} {
		s, err := NewSentences(code)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Say("measure.inside", 1.5, 2.0); !strings.Contains(got, want) {
			t.Errorf("%s: %q lacks %q", code, got, want)
		}
	}
	if _, err := NewSentences("ja"); err == nil || !strings.Contains(err.Error(), "choose one of en, de") {
		t.Errorf("Japanese: %v", err)
	}
}
