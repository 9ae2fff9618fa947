package report

import (
	"embed"
	"fmt"
	"strings"
	"time"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"github.com/nicksnyder/go-i18n/v2/i18n/template"
	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/number"

	"halocue/internal/plain"
	"halocue/prompts"
)

//go:embed text/*.toml
var texts embed.FS

// Words are those of the pages in one language.
type words struct {
	*prompts.Phrases
	localizer *i18n.Localizer
	printer   *message.Printer
}

// newWords makes the words for a language, English for one that halocue does not speak.
func newWords(want string) (*words, error) {
	tag, err := language.Parse(want)
	if err != nil {
		tag = language.English
	}
	p, err := prompts.New(tag, prompts.Normal)
	if err != nil {
		if p, err = prompts.New(language.English, prompts.Normal); err != nil {
			return nil, err
		}
	}
	bundle := i18n.NewBundle(p.Language())
	bundle.RegisterUnmarshalFunc("toml", toml.Unmarshal)
	if _, err := bundle.LoadMessageFileFS(texts, "text/"+p.Language().String()+".toml"); err != nil {
		return nil, fmt.Errorf("reading the words of the report: %w", err)
	}
	return &words{p, i18n.NewLocalizer(bundle, p.Language().String()), message.NewPrinter(p.Language())}, nil
}

// facts are what a sentence mentions.
type facts map[string]any

var strict = &template.TextParser{Option: "missingkey=error"}

// say returns the words of id. That each has words, with the facts it is given, is tested
// in every language; without them the id stands in their place.
func (w *words) say(id string, f ...facts) string { return w.plural(id, nil, f...) }

// plural is say with the form for n.
func (w *words) plural(id string, n any, f ...facts) string {
	c := &i18n.LocalizeConfig{MessageID: id, PluralCount: n, TemplateParser: strict, TemplateData: facts{}}
	for _, f := range f {
		c.TemplateData = f
	}
	text, err := w.localizer.Localize(c)
	if err != nil {
		return id
	}
	return text
}

// has returns the words of id, or else the other text.
func (w *words) has(id, other string) string {
	if text := w.say(id); text != id {
		return text
	}
	return other
}

// num writes a number with so many digits behind the point, or comma.
func (w *words) num(x float64, digits int) string {
	return w.printer.Sprint(number.Decimal(x, number.Scale(digits), number.NoSeparator()))
}

// turns writes turns with their sign.
func (w *words) turns(x float64) string {
	s := w.num(x, 2)
	if x == 0 {
		return "0"
	}
	if x > 0 {
		s = "+" + s
	}
	return strings.Replace(s, "-", "\u2212", 1)
}

func (w *words) date(t time.Time) string {
	months := strings.Fields(w.say("months"))
	return w.say("date", facts{"Day": t.Day(), "Month": months[(int(t.Month())-1)%len(months)], "Year": t.Year()})
}

func (w *words) duration(seconds float64) string {
	whole := int(seconds + 0.5)
	s := w.plural("seconds", whole%60, facts{"N": whole % 60})
	if whole < 60 {
		return s
	}
	m := w.plural("minutes", whole/60, facts{"N": whole / 60})
	if whole%60 == 0 {
		return m
	}
	return m + " " + s
}

// fraction is a wavefront error in words, rounded up.
func (w *words) fraction(waves float64) string {
	text, err := w.Fraction(waves)
	if err != nil {
		return w.num(waves, 3)
	}
	return text
}

// knob is a knob's name as it is spoken.
func (w *words) knob(name string) string {
	if text, err := w.Knob(name); err == nil {
		name = text
	}
	return plain.Text(name, 60) // the journal may be a stranger's
}
