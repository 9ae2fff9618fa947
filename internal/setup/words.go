package setup

import (
	_ "embed"
	"fmt"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

//go:embed words.toml
var wordsFile []byte

// words are the texts by section and key.
var words = readWords(wordsFile)

func readWords(file []byte) map[string]map[string]string {
	var w map[string]map[string]string
	if err := toml.Unmarshal(file, &w); err != nil {
		panic("words.toml, which is built in, cannot be read: " + err.Error())
	}
	return w
}

// say returns a text of the section [say], filled in.
func say(key string, args ...any) string { return fmt.Sprintf(words["say"][key], args...) }

// slip is an answer that cannot be taken: what to say about it, with the next step.
type slip string

func (s slip) Error() string { return string(s) }

func slipf(format string, args ...any) error { return slip(fmt.Sprintf(format, args...)) }

// sentence makes a slip one.
func sentence(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:] + "."
}
