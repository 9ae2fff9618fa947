package prompts

import (
	"embed"
	"errors"
	"fmt"
	"strings"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/nicksnyder/go-i18n/v2/i18n/template"
	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	xnumber "golang.org/x/text/number"

	"halocue/internal/cue"
	"halocue/internal/words"
)

//go:embed text/*.toml
var files embed.FS

// Languages are those that halocue speaks, complete and tested, English first.
func Languages() []language.Tag {
	return []language.Tag{
		language.English, language.German, language.French, language.Spanish, language.Italian,
		language.Portuguese, language.Dutch, language.Polish, language.Swedish,
	}
}

// Verbosity is how many words a cue is given.
type Verbosity int

// The three steps.
const (
	Brief Verbosity = iota - 1
	Normal
	Full
)

// Phrases turns cues into words of one language. It is safe for concurrent use.
type Phrases struct {
	tag       language.Tag
	verbosity Verbosity
	localizer *i18n.Localizer
}

// New makes the phrases of a language: the best match for the tag, so that
// de-AT gets German. A language that halocue does not have is an error.
func New(want language.Tag, v Verbosity) (*Phrases, error) {
	tag, err := nearest(want)
	if err != nil {
		return nil, err
	}
	bundle := i18n.NewBundle(tag) // no other language to fall back to: a missing message is an error
	bundle.RegisterUnmarshalFunc("toml", toml.Unmarshal)
	if _, err := bundle.LoadMessageFileFS(files, "text/"+tag.String()+".toml"); err != nil {
		return nil, fmt.Errorf("reading the words of %s: %w", tag, err)
	}
	return &Phrases{tag, v, i18n.NewLocalizer(bundle, tag.String())}, nil
}

// nearest is the language that halocue speaks for who wants another.
func nearest(want language.Tag) (language.Tag, error) {
	_, index, confidence := language.NewMatcher(Languages()).Match(want)
	if confidence == language.No {
		return want, fmt.Errorf("no words in the language %q: choose one of %s, or translate prompts/text/en.toml", want,
			strings.Join(strings.Fields(strings.Trim(fmt.Sprint(Languages()), "[]")), ", "))
	}
	return Languages()[index], nil
}

// Language is the language in which the phrases are.
func (p *Phrases) Language() language.Tag { return p.tag }

// Text gives the words of a cue, and how far to turn by itself ("slightly"),
// "" where nothing is turned. A cue whose action is turn, but whose code says what was
// wrong ("too-far"), is followed by the turn that corrects it.
func (p *Phrases) Text(c Cue) (text, amount string, err error) {
	entry, err := Lookup(c.Code)
	if err != nil {
		return "", "", err
	}
	data, err := p.data(c)
	if err != nil {
		return "", "", fmt.Errorf("wording the cue %q: %w", c.Code, err)
	}
	verbosity := p.verbosity
	if c.Full && verbosity == Normal {
		verbosity = Full
	}
	key := c.Code
	if len(entry.Variants) > 0 {
		key += "." + variant(c)
	}
	text, err = p.render(key, data, verbosity)
	if err != nil {
		return "", "", fmt.Errorf("wording the cue %q: %w", c.Code, err)
	}
	if action(c, entry) == cue.Turn {
		amount, _ = data["Amount"].(string)
		if c.Code != "turn" && c.Code != "star-lost-knob" && c.Knob != "" && c.Direction != "" {
			tail, err := p.render("turn."+c.Direction, data, verbosity)
			if err != nil {
				return "", "", fmt.Errorf("wording the turn of %q: %w", c.Code, err)
			}
			text += " " + tail
		}
	}
	if c.Code == "done" {
		result, err := p.result(c.Args)
		if err != nil {
			return "", "", fmt.Errorf("wording the result: %w", err)
		}
		text = strings.TrimSpace(text + " " + result)
	}
	return text, amount, nil
}

// data gathers what the words of a cue may mention: its arguments as they are, and what is
// made of them.
func (p *Phrases) data(c Cue) (map[string]any, error) {
	data := map[string]any{}
	for arg, v := range c.Args {
		if n, ok := number(v); ok {
			v = p.decimal(n)
		}
		data[words.Capital(arg)] = v
	}
	var err error
	set := func(key string, f func() (string, error)) {
		if err == nil {
			data[key], err = f()
		}
	}
	knob := c.Knob
	if name, ok := c.Args["name"].(string); ok && knob == "" {
		knob = name
	}
	if knob != "" {
		set("Knob", func() (string, error) { return p.Knob(knob) })
		set("Lock", func() (string, error) { return p.name("lock-name", knob) })
	}
	if moved, ok := c.Args["moved"].(string); ok {
		set("Moved", func() (string, error) { return p.Knob(moved) })
	}
	if c.Turns > 0 {
		set("Amount", func() (string, error) { return p.amount(c.Turns) })
	}
	if ratio, ok := number(c.Args["ratio"]); ok {
		set("Times", func() (string, error) { return p.times(ratio) })
	}
	if waves, ok := number(c.Args["waves"]); ok {
		set("Fraction", func() (string, error) { return p.Fraction(waves) })
	}
	if _, ok := c.Args["star"]; ok {
		set("Where", func() (string, error) { return p.compass(c.Args) })
		set("Fists", func() (string, error) { return p.fists(c.Args) })
	}
	if next, ok := c.Args["next"].(string); ok {
		set("Next", func() (string, error) { return p.message("rough-next."+next, nil, nil) })
	}
	return data, err
}

// render finds the words for the verbosity, and the plain ones where the data
// does not have what they need; a sentence begins with a capital.
func (p *Phrases) render(key string, data map[string]any, v Verbosity) (string, error) {
	tries := []string{key + ".normal"}
	switch v {
	case Brief:
		tries = []string{key + ".brief", key + ".normal"}
	case Full:
		tries = []string{key + ".full", key + ".normal"}
	}
	// A message may also be a plain string: [lesson] far = "..."
	var why error
	for _, try := range append(tries, key+".plain", key) {
		text, err := p.message(try, data, nil)
		if err == nil {
			return words.Capital(text), nil
		}
		var missing *i18n.MessageNotFoundErr
		if !errors.As(err, &missing) {
			why = err // the words are there, a fact that they mention is not
		}
	}
	if why != nil {
		return "", fmt.Errorf("%q in %s: %w", key, p.tag, why)
	}
	return "", fmt.Errorf("no words for %q in %s", key, p.tag)
}

// message renders one message; plural chooses its form where it has several.
func (p *Phrases) message(id string, data map[string]any, plural any) (string, error) {
	return p.localizer.Localize(&i18n.LocalizeConfig{
		MessageID: id, TemplateData: data, PluralCount: plural,
		TemplateParser: strictParser,
	})
}

// A word that is missing must be noticed, not spoken as "no value".
var strictParser = &template.TextParser{Option: "missingkey=error"}

// decimal writes a number with a digit behind the point or comma, as the language does.
func (p *Phrases) decimal(v float64) string {
	return message.NewPrinter(p.tag).Sprint(xnumber.Decimal(v, xnumber.MaxFractionDigits(1)))
}

// number reads a number of any of the kinds that arguments come in.
func number(v any) (float64, bool) {
	switch n := v.(type) {
	case float64:
		return n, true
	case float32:
		return float64(n), true
	case int:
		return float64(n), true
	}
	return 0, false
}
