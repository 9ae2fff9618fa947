package command

import "testing"

func TestNamesAreCommands(t *testing.T) {
	for _, c := range All() {
		if got, ok := Parse(string(c)); !ok || got != c {
			t.Errorf("%q is not its own name", c)
		}
		if c.Say() == "" {
			t.Errorf("%q cannot be said", c)
		}
	}
	if _, ok := Parse("tighten"); ok {
		t.Error("a word that would turn something is a command")
	}
}
