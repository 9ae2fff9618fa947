// Package words reads what is said in one language from files in which a sentence has a
// section and a key, and fills the sentences in. The tools and set-up have such files.
package words

import (
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

// Texts are the texts of one language, with fmt's verbs for what is filled in.
type Texts struct {
	Sections map[string]map[string]string // by section and key
	comma    bool                         // for the decimal point
}

// Read reads the texts of a language, which is a code such as "de", from folder.
func Read(files fs.FS, folder, language string) (*Texts, error) {
	t := &Texts{comma: language != "en"}
	text, err := fs.ReadFile(files, folder+"/"+language+".toml")
	if err == nil {
		err = toml.Unmarshal(text, &t.Sections)
	}
	if err != nil {
		return nil, fmt.Errorf("reading the words of %q: %w", language, err)
	}
	return t, nil
}

// Say returns the text of a section and key, "measure.lean", filled in; a key that is
// none is a mistake of the program, and shows.
func (t *Texts) Say(key string, args ...any) string {
	section, name, _ := strings.Cut(key, ".")
	text, ok := t.Sections[section][name]
	if !ok {
		return "%!" + key
	}
	args = slices.Clone(args)
	for i, x := range args {
		if v, ok := x.(float64); ok && t.comma {
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

// Capital returns a sentence with a capital at its beginning: a name may stand there.
func Capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}
