package prompts

import (
	"embed"
	"fmt"

	"golang.org/x/text/language"

	"halocue/internal/words"
)

//go:embed tools/*.toml
var toolFiles embed.FS

// NewSentences reads what the tools say outside of a night, in a language that halocue
// speaks, as New does.
func NewSentences(want string) (*words.Texts, error) {
	tag, err := language.Parse(want)
	if err != nil {
		return nil, fmt.Errorf("language %q: %w; choose one that halocue speaks", want, err)
	}
	if tag, err = nearest(tag); err != nil {
		return nil, err
	}
	return words.Read(toolFiles, "tools", tag.String())
}
