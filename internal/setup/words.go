package setup

import (
	"embed"
	"errors"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"

	"halocue/config"
	"halocue/internal/words"
)

//go:embed words/*.toml
var wordsFiles embed.FS

// tongue is set-up in one language.
type tongue struct {
	*words.Texts
	tag language.Tag
}

// tongues are all languages, by their code in the settings.
var tongues = func() map[string]*tongue {
	all := map[string]*tongue{}
	for _, code := range keys["voice.language"].Choices {
		texts, err := words.Read(wordsFiles, "words", code)
		if err != nil {
			panic("the words of set-up, which are built in: " + err.Error())
		}
		all[code] = &tongue{texts, language.Make(code)}
	}
	return all
}()

// tongueOf is the tongue of a language, English where there is none.
func tongueOf(code string) *tongue {
	if w := tongues[code]; w != nil {
		return w
	}
	return tongues["en"]
}

// Locale is the language of a person's environment, where halocue speaks it; else
// English.
func Locale(env []string) string {
	for _, name := range []string{"LC_ALL", "LC_MESSAGES", "LANG"} {
		if value := config.Variable(env, name); value != "" {
			if code := value[:min(2, len(value))]; tongues[code] != nil {
				return code
			}
			return "en"
		}
	}
	return "en"
}

// term is a word of the section [term], filled in where a sentence has it.
type term string

// say returns a text of the section [say], filled in.
func (w *tongue) say(key string, args ...any) string {
	args = slices.Clone(args)
	for i, x := range args {
		switch x := x.(type) {
		case term:
			args[i] = w.term(x)
		case float64:
			args[i] = w.number(x)
		}
	}
	return w.Say("say."+key, args...)
}

// term is a word alone, filled in.
func (w *tongue) term(key term, args ...any) string { return w.Say("term."+string(key), args...) }

// number writes a number without what nobody hears: 1.0583, 203.
func (w *tongue) number(x float64) string {
	text := strconv.FormatFloat(round(x), 'f', -1, 64)
	if w.tag != language.English {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

// amount is a number and its unit, "mm", in words.
func (w *tongue) amount(x float64, unit term) string {
	text := w.number(x)
	whole, part, _ := strings.Cut(strings.Replace(text, ",", ".", 1), ".")
	i, _ := strconv.Atoi(whole) // digits, by number
	f, _ := strconv.Atoi(part)
	form := map[plural.Form]term{plural.One: "-one", plural.Few: "-few", plural.Other: "-other"}[plural.Cardinal.MatchPlural(w.tag, i, len(part), len(part), f, f)]
	if w.Sections["term"][string(unit+form)] != "" {
		unit += form
	}
	return text + " " + w.term(unit)
}

// bare is an answer without its unit, as it is said here or in English, or one of the signs.
func (w *tongue) bare(line string, unit term, signs ...string) string {
	for _, t := range []*tongue{w, tongues["en"]} {
		for key, word := range t.Sections["term"] {
			if key == string(unit) || strings.HasPrefix(key, string(unit)+"-") {
				signs = append(signs, strings.ToLower(word))
			}
		}
	}
	for _, sign := range signs {
		if rest, ok := strings.CutSuffix(plain(line), sign); ok {
			return strings.TrimSpace(rest)
		}
	}
	return plain(line)
}

func (w *tongue) known(x float64, unit term) string {
	if x == 0 {
		return w.term("unknown")
	}
	return w.amount(x, unit)
}

func (w *tongue) yes(b bool) string {
	if b {
		return w.term("yes")
	}
	return w.term("no")
}

// name is what a knob is called in this language, where the voice has it.
func (w *tongue) name(name string) string {
	if own := w.Sections["names"][name]; own != "" {
		return own
	}
	return name
}

// is reports whether a line is an answer of the section [answers], here or in English.
func (w *tongue) is(line, answer string) bool {
	all := w.Sections["answers"][answer] + "|" + tongues["en"].Sections["answers"][answer]
	return slices.Contains(strings.Split(all, "|"), plain(line))
}

// which is the first of the answers that the line is, "" for none.
func (w *tongue) which(line string, answers ...string) string {
	for _, a := range answers {
		if w.is(line, a) {
			return a
		}
	}
	return ""
}

// A slip is an answer that cannot be taken: what to say about it, with the next step.
type slip struct {
	key  string
	args []any
}

func slipOf(key string, args ...any) error { return slip{key, args} }

// Error is the slip in English.
func (s slip) Error() string { return tongues["en"].say(s.key, s.args...) }

// sentence is what to say of an error: of a slip in this language.
func (w *tongue) sentence(err error) string {
	text := err.Error()
	var wrong slip
	if errors.As(err, &wrong) {
		text = w.say(wrong.key, wrong.args...)
	}
	return words.Capital(text) + "."
}
