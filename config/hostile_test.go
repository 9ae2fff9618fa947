package config

import (
	"strings"
	"testing"
	"time"
)

// Keys, tables and lists nested without reason are refused at once, and what only
// looks like it is not.
func TestDepth(t *testing.T) {
	deep := strings.Repeat("a.", 20_000) + "a"
	for name, text := range map[string]string{
		"key":     deep + " = 1",
		"table":   "[" + deep + "]",
		"list":    "a = " + strings.Repeat("[", 20_000),
		"inline":  strings.Repeat("a = {", 10_000),
		"quoted":  strings.Repeat(`"a".`, 10_000) + "a = 1",
		"in list": "[[" + strings.Repeat("a . ", 10_000) + "a]]",
	} {
		start := time.Now()
		_, err := Parse(text)
		if err == nil || !strings.Contains(err.Error(), "line 1 nests") || !strings.Contains(err.Error(), "; ") || len(err.Error()) > 300 {
			t.Errorf("%s: %.300v", name, err)
		}
		if took := time.Since(start); took > 20*time.Second { // many times what it takes
			t.Errorf("%s: took %v", name, took)
		}
	}
	for _, text := range []string{
		"[camera]\nsource = \"" + strings.Repeat("../", 30) + "x[[[{{.png\" # " + strings.Repeat("[.", 40),
		"[camera]\nsource = '" + strings.Repeat(".", 30) + "'\n# it's " + strings.Repeat(".", 30),
		"[camera]\nsource = \"a\\\"" + strings.Repeat("[", 20) + "\"",
		strings.Repeat("# 'a' [ . \"\n", 40),
	} {
		if _, err := Parse(text); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// A knob's name is something to hear and to see, and steers neither voice nor terminal.
func TestKnobNames(t *testing.T) {
	for name, ok := range map[string]bool{
		"left": true, "Knopf 1": true, "\u5de6": true, "l'\u00e9toile": true, "\u0915\u094d\u200d\u0937": true,
		"\u200b": false, "\u2060\u2060": false, "a\u202eb": false, "a\u009b31m": false, "a\nb": false, "a\u2028b": false,
		"<break time='9s'/>": false, "&lt;": false, "[[x]]": false, "a\\b": false, "": false, " ": false, strings.Repeat("x", 41): false,
	} {
		c := Default()
		c.MirrorCell.Knobs[0].Name = name
		if err := c.Check(); (err == nil) != ok {
			t.Errorf("%q: %v", name, err)
		} else if err != nil && strings.ContainsAny(err.Error(), "\u200b\u202e\u009b\n") {
			t.Errorf("%q is printed raw", name)
		}
	}
}
