package config

import (
	"errors"
	"fmt"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// errByHand ends an edit that would lose something.
var errByHand = errors.New("the settings file is written in a way that cannot be changed without losing something: change it by hand")

// Edit changes the text of a settings file so that Parse of it gives want. Only the
// values that differ are changed: remarks, order and spacing stay as they are. It
// refuses a text that does not parse, and a change that would lose something.
func Edit(text string, want Config) (string, error) {
	have, err := Parse(text)
	if err != nil {
		return "", err
	}
	if err := want.Check(); err != nil {
		return "", err
	}
	from, to := have.Tree(), want.Tree()
	for _, k := range Keys() {
		section, name, _ := strings.Cut(k.Path, ".")
		x := to[section][name]
		if reflect.DeepEqual(from[section][name], x) {
			continue
		}
		if knobs, ok := x.([]Knob); ok {
			text, err = putKnobs(text, knobs)
		} else {
			text, err = put(text, section, name, x)
		}
		if err != nil {
			return "", fmt.Errorf("changing %s: %w", k.Path, err)
		}
	}
	if again, err := Parse(text); err != nil || !reflect.DeepEqual(again.Tree(), to) {
		return "", errors.Join(errByHand, err)
	}
	return text, nil
}

// Entry is one line of a settings file, without its end.
func Entry(name string, x any) (string, error) {
	switch x := x.(type) {
	case float64:
		return fmt.Sprintf("%s = %v", name, x), nil
	case []float64:
		return fmt.Sprintf("%s = [%s]", name, strings.ReplaceAll(strings.Trim(fmt.Sprint(x), "[]"), " ", ", ")), nil
	case string:
		if !strings.ContainsAny(x, "\"\\") {
			return fmt.Sprintf("%s = \"%s\"", name, x), nil
		}
	}
	line, err := toml.Marshal(map[string]any{name: x})
	return strings.TrimSuffix(string(line), "\n"), err
}

// span is a stretch of a text, from and to in bytes.
type span struct{ from, to int }

// layout is where things stand in a settings file: values by their full key, and the
// place after the last line of each table. The knobs' tables are numbered from 0.
type layout struct {
	values map[string]span
	ends   map[string]int
	knobs  int
}

const knobsTable = "mirror_cell.knobs"

// survey finds the places of all keys and tables.
func survey(text string) (layout, error) {
	l := layout{values: map[string]span{}, ends: map[string]int{}}
	var p unstable.Parser
	p.Reset([]byte(text))
	table := ""
	for p.NextExpression() {
		e := p.Expression()
		path, after := keyOf(e)
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = path
			if e.Kind == unstable.ArrayTable && path == knobsTable {
				table = fmt.Sprintf("%s.%d", path, l.knobs)
				l.knobs++
			}
		case unstable.KeyValue:
			if table != "" {
				path = table + "." + path
			}
			v, ok := valueAt(text, after, e.Value())
			if !ok {
				return l, errByHand
			}
			l.values[path], after = v, v.to
		}
		l.ends[table] = lineAfter(text, after)
	}
	return l, p.Error()
}

// keyOf returns an expression's key, in small letters as the settings are read, and
// where it ends.
func keyOf(e *unstable.Node) (path string, end int) {
	var parts []string
	for i := e.Key(); i.Next(); {
		n := i.Node()
		parts = append(parts, strings.ToLower(string(n.Data)))
		end = int(n.Raw.Offset + n.Raw.Length)
	}
	return strings.Join(parts, "."), end
}

// valueAt finds the value of a key that ends at an offset. A list with a remark in it
// is none: the remark would be lost.
func valueAt(text string, after int, v *unstable.Node) (span, bool) {
	eq := strings.IndexByte(text[after:], '=')
	if eq < 0 {
		return span{}, false
	}
	from := after + eq + 1
	from += len(text[from:]) - len(strings.TrimLeft(text[from:], " \t"))
	switch v.Kind {
	case unstable.Array:
		end := strings.IndexByte(text[from:], ']') // of numbers; Edit finds out if not
		return span{from, from + end + 1}, !strings.Contains(text[from:from+end+1], "#")
	case unstable.Bool:
		return span{from, from + len(v.Data)}, true
	case unstable.InlineTable:
		return span{from, from}, true // never changed
	}
	return span{from, from + int(v.Raw.Length)}, v.Raw.Length > 0
}

// lineAfter is where the line after an offset begins.
func lineAfter(text string, at int) int {
	if i := strings.IndexByte(text[at:], '\n'); i >= 0 {
		return at + i + 1
	}
	return len(text)
}

// put sets a key of a table, and adds what is not there yet.
func put(text, table, name string, x any) (string, error) {
	line, err := Entry(name, x)
	if err != nil {
		return "", err
	}
	l, err := survey(text)
	if err != nil {
		return "", err
	}
	newline := newlineOf(text)
	if v, ok := l.values[table+"."+name]; ok {
		return text[:v.from] + strings.TrimPrefix(line, name+" = ") + text[v.to:], nil
	}
	at, ok := l.ends[table]
	if !ok {
		at = len(text)
		line = newline + "[" + table + "]" + newline + line
	}
	return ended(text[:at]) + line + newline + text[at:], nil
}

// newlineOf is how the text ends its lines.
func newlineOf(text string) string {
	if strings.Contains(text, "\r\n") {
		return "\r\n"
	}
	return "\n"
}

// ended is the text with its last line ended.
func ended(text string) string {
	if text != "" && !strings.HasSuffix(text, "\n") {
		text += newlineOf(text)
	}
	return text
}

// putKnobs sets names and clocks of the three knobs.
func putKnobs(text string, knobs []Knob) (string, error) {
	l, err := survey(text)
	if err != nil {
		return "", err
	}
	if _, inline := l.values[knobsTable]; inline || l.knobs != 0 && l.knobs != len(knobs) {
		return "", errByHand
	}
	for i, k := range knobs {
		table := fmt.Sprintf("%s.%d", knobsTable, i)
		if l.knobs == 0 {
			name, err := Entry("name", k.Name)
			if err != nil {
				return "", err
			}
			lines := []string{"[[" + knobsTable + "]]", name, fmt.Sprintf("clock = %v", k.Clock), ""}
			text = ended(text) + strings.Join(lines, newlineOf(text))
			continue
		}
		if text, err = put(text, table, "name", k.Name); err == nil {
			text, err = put(text, table, "clock", k.Clock)
		}
		if err != nil {
			return "", err
		}
	}
	return text, nil
}
