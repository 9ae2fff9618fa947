package prompts

import (
	"cmp"
	"errors"
	"strings"
	"unicode/utf8"

	"github.com/nicksnyder/go-i18n/v2/i18n"
)

// Other names that people write, and the names in the language files.
var knobAliases = map[string]string{
	"lefthand": "left-hand", "righthand": "right-hand",
	"top-left": "upper-left", "top-right": "upper-right",
	"bottom-left": "lower-left", "bottom-right": "lower-right",
	"one": "1", "two": "2", "three": "3", "four": "4",
}

// name says which knob (kind "knob") or whose lock (kind "lock-name") is meant.
// Names that the language knows are translated, a letter or number gets the
// word "knob", and any other name is spoken as it was written.
func (p *Phrases) name(kind, config string) (string, error) {
	name := strings.TrimSpace(config)
	joint := func(r rune) bool { return r == ' ' || r == '-' || r == '_' }
	key := strings.ToLower(strings.Join(strings.FieldsFunc(name, joint), "-"))
	key = cmp.Or(knobAliases[key], key)
	if utf8.RuneCountInString(key) <= 2 {
		return p.message(kind+".letter", map[string]any{"Name": strings.ToUpper(key)}, nil)
	}
	text, err := p.message(kind+"."+key, nil, nil)
	var missing *i18n.MessageNotFoundErr
	if errors.As(err, &missing) || key == "custom" || key == "letter" { // patterns in the language files, not names
		return p.message(kind+".custom", map[string]any{"Name": name}, nil)
	}
	return text, err
}

// Knob is the name of a knob as it is spoken.
func (p *Phrases) Knob(name string) (string, error) { return p.name("knob", name) }

// Told is what tells a knob's name from the others': the name without the word "knob".
func (p *Phrases) Told(name string) (string, error) {
	text, err := p.Knob(name)
	if err != nil {
		return "", err
	}
	knob, err := p.message("knob.letter", map[string]any{"Name": ""}, nil)
	return strings.Join(strings.Fields(strings.Replace(text, strings.TrimSpace(knob), "", 1)), " "), err
}
