package config

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// A Key is one setting, as the struct's tags describe it.
type Key struct {
	Path     string // "telescope.aperture_mm"
	Flag     string // "aperture-mm"
	Help     string
	Unit     string   // "mm", "" for none
	Choices  []string // the only values allowed, or nil
	Min, Max float64  // of a number; both 0: any
	OrZero   bool     // 0 is allowed besides, for "not known"
	arg      string   // what stands for the value in a help text, "" for one by its kind
	index    []int    // of the field in Config
	kind     reflect.Type
}

// Keys lists every setting in the order of the struct.
func Keys() []Key { return keysOf(reflect.TypeOf(Config{}), "", nil) }

func keysOf(t reflect.Type, path string, index []int) []Key {
	var keys []Key
	for i := range t.NumField() {
		f := t.Field(i)
		name := f.Tag.Get("mapstructure")
		if name == "-" {
			continue
		}
		at := append(slices.Clone(index), i)
		if f.Type.Kind() == reflect.Struct {
			keys = append(keys, keysOf(f.Type, path+name+".", at)...)
			continue
		}
		keys = append(keys, newKey(f, path+name, at))
	}
	return keys
}

func newKey(f reflect.StructField, path string, index []int) Key {
	k := Key{Path: path, index: index, kind: f.Type,
		Flag: f.Tag.Get("flag"), Help: f.Tag.Get("help"), Unit: f.Tag.Get("unit"), arg: f.Tag.Get("arg")}
	if c := f.Tag.Get("choices"); c != "" {
		k.Choices = strings.Fields(c)
	}
	if r := strings.Fields(f.Tag.Get("range")); len(r) >= 2 {
		k.Min, _ = strconv.ParseFloat(r[0], 64)
		k.Max, _ = strconv.ParseFloat(r[1], 64)
		k.OrZero = len(r) > 2
	}
	return k
}

// Env returns the variable that sets the key.
func (k Key) Env() string {
	return "HALOCUE_" + strings.ToUpper(strings.ReplaceAll(k.Path, ".", "_"))
}

// Section returns the table that the key stands in.
func (k Key) Section() string { return strings.SplitN(k.Path, ".", 2)[0] }

// IsBool reports whether the key is a yes or no.
func (k Key) IsBool() bool { return k.kind.Kind() == reflect.Bool }

// Placeholder names the key's value in a help text: its unit, or what it is.
func (k Key) Placeholder() string {
	switch {
	case k.IsBool():
		return ""
	case k.arg != "":
		return k.arg
	case k.Choices != nil:
		return "WORD"
	case k.Unit == "mm" || k.Unit == "ms" || k.Unit == "m":
		return strings.ToUpper(k.Unit)
	default:
		return "NUMBER"
	}
}

// Explained is the key's help with the range of its numbers.
func (k Key) Explained() string {
	if k.Min == 0 && k.Max == 0 || k.kind.Kind() != reflect.Float64 {
		return k.Help
	}
	unit := k.Unit
	if unit != "" && !strings.Contains(k.Help, unit) {
		unit = " " + unit
	} else {
		unit = ""
	}
	return fmt.Sprintf("%s; from %v to %.0f%s", k.Help, k.Min, k.Max, unit)
}

// BuiltIn is the built-in value as a flag would have it; "" where nothing is built in.
func (k Key) BuiltIn() string {
	switch x := reflect.ValueOf(Default()).FieldByIndex(k.index).Interface().(type) {
	case float64:
		if x != 0 || !k.OrZero {
			return fmt.Sprintf("%g", x)
		}
	case string:
		return x
	case []Knob:
		var list []string
		for _, knob := range x {
			list = append(list, fmt.Sprintf("%s=%g", knob.Name, knob.Clock))
		}
		return strings.Join(list, ",")
	}
	return ""
}

// Tree returns the settings as they stand in the file: sections of keys. A list that is
// missing is an empty one.
func (c Config) Tree() map[string]map[string]any {
	if c.Camera.CentrePX == nil {
		c.Camera.CentrePX = []float64{}
	}
	tree := map[string]map[string]any{}
	v := reflect.ValueOf(c)
	for _, k := range Keys() {
		section, name, _ := strings.Cut(k.Path, ".")
		if tree[section] == nil {
			tree[section] = map[string]any{}
		}
		tree[section][name] = v.FieldByIndex(k.index).Interface()
	}
	return tree
}

// FromTree is the inverse of Tree, after its tree was JSON. What is not there stays as
// it is built in; keys that are not known are left out, and named.
func FromTree(tree map[string]map[string]any) (c Config, unknown []string, err error) {
	known, all := map[string]bool{}, map[string]any{}
	for _, k := range Keys() {
		known[k.Path] = true
	}
	for section, values := range tree {
		for name, x := range values {
			if path := section + "." + name; !known[path] {
				unknown = append(unknown, path)
			} else if x != nil {
				graft(all, path, x)
			}
		}
	}
	slices.Sort(unknown)
	if c, err = decode(all); err == nil {
		err = c.Check()
	}
	return c, unknown, err
}

// Parse turns the text of a flag or a variable into the key's value.
func (k Key) Parse(text string) (any, error) {
	switch {
	case k.IsBool():
		b, err := strconv.ParseBool(text)
		if err != nil {
			return nil, fmt.Errorf("%s is %q: write true or false", k.Path, text)
		}
		return b, nil
	case k.kind.Kind() == reflect.Float64:
		return k.number(text)
	case k.kind == reflect.TypeOf([]float64{}):
		return k.numbers(text)
	case k.kind == reflect.TypeOf([]Knob{}):
		return parseKnobs(text)
	default:
		return text, k.checkValue(text)
	}
}

func (k Key) number(text string) (float64, error) {
	x, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil {
		return 0, fmt.Errorf("%s is %q: write a number%s, with a point and no comma", k.Path, text, k.in())
	}
	return x, k.check(x)
}

func (k Key) numbers(text string) ([]float64, error) {
	list := []float64{}
	if strings.TrimSpace(text) == "" {
		return list, nil
	}
	for _, s := range strings.Split(text, ",") {
		x, err := k.number(s)
		if err != nil {
			return nil, err
		}
		list = append(list, x)
	}
	return list, nil
}

func parseKnobs(text string) ([]any, error) {
	var knobs []any
	for _, s := range strings.Split(text, ",") {
		name, clock, ok := strings.Cut(s, "=")
		hours, err := strconv.ParseFloat(strings.TrimSpace(clock), 64)
		if !ok || err != nil {
			return nil, fmt.Errorf("mirror_cell.knobs is %q: write it like left-hand=8,right-hand=4,upper=12", text)
		}
		knobs = append(knobs, map[string]any{"name": strings.TrimSpace(name), "clock": hours})
	}
	return knobs, nil
}

// in returns the unit to follow a number in a sentence.
func (k Key) in() string {
	if k.Unit == "" {
		return ""
	}
	return " in " + k.Unit
}

// check returns an error for a number out of the key's range.
func (k Key) check(x float64) error {
	if k.Min == 0 && k.Max == 0 || k.OrZero && x == 0 || x >= k.Min && x <= k.Max {
		return nil
	}
	unit := k.Unit
	if unit != "" {
		unit = " " + unit
	}
	or := ""
	if k.OrZero {
		or = ", or 0 where it is not known"
	}
	if math.IsNaN(x) {
		return fmt.Errorf("%s is not a number: write one from %g to %g%s%s", k.Path, k.Min, k.Max, unit, or)
	}
	return fmt.Errorf("%s is %g%s: it must be from %g to %g%s%s", k.Path, x, unit, k.Min, k.Max, unit, or)
}
