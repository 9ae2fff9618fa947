// Package sphinx recognises utterances of a small grammar with the program
// pocketsphinx_batch (Debian: pocketsphinx and pocketsphinx-en-us). The program is
// run once for each utterance, so its library's API, which later releases change,
// does not matter here.
package sphinx

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Grammar is a set of sentences as a graph of words, with a filler that matches
// everything else.
type Grammar struct {
	states int
	arcs   []arc
	words  map[string]bool
}

type arc struct {
	from, to int
	word     string // "" costs nothing and says nothing
}

const start, final = 0, 1

// phones are those of the US English model.
var phones = strings.Fields("AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH")

// Parse makes a grammar of patterns. A pattern is a sentence in lower-case words;
// (a|b c|d) is one of several, [x] may be left out.
func Parse(patterns ...string) (*Grammar, error) {
	g := &Grammar{states: 2, words: map[string]bool{}}
	for _, text := range patterns {
		p := parser{g: g, tokens: tokens(text)}
		end, err := p.alternatives(start)
		if err == nil && len(p.tokens) > 0 {
			err = fmt.Errorf("%q is not expected", p.tokens[0])
		}
		if err != nil {
			return nil, fmt.Errorf("pattern %q: %w", text, err)
		}
		g.arcs = append(g.arcs, arc{end, final, ""})
	}
	if len(g.words) == 0 {
		return nil, fmt.Errorf("a grammar without words: give it a sentence")
	}
	return g, nil
}

func tokens(text string) []string {
	for _, mark := range []string{"(", ")", "[", "]", "|"} {
		text = strings.ReplaceAll(text, mark, " "+mark+" ")
	}
	return strings.Fields(text)
}

type parser struct {
	g      *Grammar
	tokens []string
}

func (p *parser) peek() string {
	if len(p.tokens) == 0 {
		return ""
	}
	return p.tokens[0]
}

func (g *Grammar) state() int {
	g.states++
	return g.states - 1
}

// alternatives reads sequences parted by | and returns the state where all end.
func (p *parser) alternatives(from int) (int, error) {
	end := p.g.state()
	for {
		to, err := p.sequence(from)
		if err != nil {
			return 0, err
		}
		p.g.arcs = append(p.g.arcs, arc{to, end, ""})
		if p.peek() != "|" {
			return end, nil
		}
		p.tokens = p.tokens[1:]
	}
}

// sequence reads words and groups one after the other.
func (p *parser) sequence(at int) (int, error) {
	for {
		switch t := p.peek(); t {
		case "", ")", "]", "|":
			return at, nil
		case "(", "[":
			p.tokens = p.tokens[1:]
			end, err := p.alternatives(at)
			if err != nil {
				return 0, err
			}
			if closing := map[string]string{"(": ")", "[": "]"}[t]; p.peek() != closing {
				return 0, fmt.Errorf("%q is not closed", t)
			}
			p.tokens = p.tokens[1:]
			if t == "[" {
				p.g.arcs = append(p.g.arcs, arc{at, end, ""})
			}
			at = end
		default:
			p.tokens = p.tokens[1:]
			to := p.g.state()
			p.g.arcs = append(p.g.arcs, arc{at, to, t})
			p.g.words[t] = true
			at = to
		}
	}
}

// fsg writes the grammar as a finite-state grammar of the CMU Sphinx format. The filler
// is a loop of all phones, each with the given probability, at the beginning or after any
// word: the larger it is, the more is taken for talk.
func (g *Grammar) fsg(filler float64) string {
	var b strings.Builder
	loop := g.states
	fmt.Fprintf(&b, "FSG_BEGIN cues\nNUM_STATES %d\nSTART_STATE %d\nFINAL_STATE %d\n", g.states+1, start, final)
	for _, a := range g.arcs {
		fmt.Fprintf(&b, "TRANSITION %d %d 1 %s\n", a.from, a.to, a.word)
	}
	if filler > 0 {
		for _, p := range phones {
			fmt.Fprintf(&b, "TRANSITION %d %d %g %s%s\n", start, loop, filler, fillerMark, p)
			fmt.Fprintf(&b, "TRANSITION %d %d %g %s%s\n", loop, loop, filler, fillerMark, p)
		}
		for _, a := range g.arcs { // words that begin like a sentence may go on otherwise
			if a.word != "" {
				fmt.Fprintf(&b, "TRANSITION %d %d %g\n", a.to, loop, filler)
			}
		}
		fmt.Fprintf(&b, "TRANSITION %d %d 1\n", loop, final)
	}
	b.WriteString("FSG_END\n")
	return b.String()
}

// fillerMark begins the names of the filler's words.
const fillerMark = "g_"

// dictionary returns the pronunciations of the grammar's words and of the filler:
// from the lines of a CMU dictionary and from more, which comes first.
func (g *Grammar) dictionary(cmu string, more map[string][]string) (string, error) {
	found := map[string][]string{}
	for word, says := range more {
		found[word] = append(found[word], says...)
	}
	for line := range strings.Lines(cmu) {
		word, says, ok := strings.Cut(strings.TrimSpace(line), " ")
		base, _, _ := strings.Cut(word, "(")
		if ok && g.words[base] {
			found[base] = append(found[base], strings.TrimSpace(says))
		}
	}
	var b strings.Builder
	for _, w := range slices.Sorted(maps.Keys(g.words)) {
		if len(found[w]) == 0 {
			return "", fmt.Errorf("no pronunciation of %q is known: use another word or give its phones", w)
		}
		for i, says := range found[w] {
			if i > 0 {
				fmt.Fprintf(&b, "%s(%d) %s\n", w, i+1, says)
			} else {
				fmt.Fprintf(&b, "%s %s\n", w, says)
			}
		}
	}
	for _, p := range phones {
		fmt.Fprintf(&b, "%s%s %s\n", fillerMark, p, p)
	}
	return b.String(), nil
}
