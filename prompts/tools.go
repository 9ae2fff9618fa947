package prompts

import (
	"embed"
	"fmt"
	"io"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"
)

//go:embed tools/*.toml
var toolFiles embed.FS

// Sentences are what the tools say outside of a night, in one language: texts by section
// and key, with fmt's verbs for what is filled in.
type Sentences struct {
	texts map[string]map[string]string
	comma bool // for the decimal point
}

// NewSentences reads those of a language that halocue speaks, as New does.
func NewSentences(want string) (*Sentences, error) {
	tag, err := language.Parse(want)
	if err != nil {
		return nil, fmt.Errorf("language %q: %w; choose one that halocue speaks", want, err)
	}
	if tag, err = nearest(tag); err != nil {
		return nil, err
	}
	text, err := toolFiles.ReadFile("tools/" + tag.String() + ".toml")
	if err != nil {
		return nil, fmt.Errorf("reading the tools' words of %s: %w", tag, err)
	}
	s := &Sentences{comma: tag != language.English}
	if err := toml.Unmarshal(text, &s.texts); err != nil {
		return nil, fmt.Errorf("reading the tools' words of %s: %w", tag, err)
	}
	return s, nil
}

// Say returns the text of a section and key, "measure.lean", filled in; a key that is
// none is a mistake of the program, and shows.
func (s *Sentences) Say(key string, args ...any) string {
	section, name, _ := strings.Cut(key, ".")
	text, ok := s.texts[section][name]
	if !ok {
		return "%!" + key
	}
	for i, x := range args {
		if v, ok := x.(float64); ok && s.comma {
			args[i] = comma(v)
		}
	}
	return fmt.Sprintf(text, args...)
}

// comma is a number that is written with a decimal comma.
type comma float64

// Format is fmt.Formatter's.
func (c comma) Format(f fmt.State, verb rune) {
	_, _ = io.WriteString(f, strings.Replace(fmt.Sprintf(fmt.FormatString(f, verb), float64(c)), ".", ",", 1)) // into memory
}
