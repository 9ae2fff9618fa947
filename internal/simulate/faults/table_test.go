package faults

import (
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
)

// The table in docs/faults.md names tests that there are, and all of this package's.
func TestTableNamesItsTests(t *testing.T) {
	b, err := os.ReadFile("../../../docs/faults.md")
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("grep", "-rhoE", "--include=*_test.go", `^func Test[A-Za-z]+`, "../../..").Output()
	if err != nil {
		t.Fatal(err)
	}
	there := " " + strings.Join(strings.Fields(strings.ReplaceAll(string(out), "func ", "")), " ") + " "
	table := string(b)
	for _, name := range regexp.MustCompile(`Test[A-Z]\w*`).FindAllString(table, -1) {
		if !strings.Contains(there, " "+name+" ") {
			t.Errorf("there is no %s", name)
		}
	}
	for name := range skies {
		if !strings.Contains(table, "TestProveSky/"+strings.ReplaceAll(name, " ", "_")) {
			t.Errorf("the table does not have %q", name)
		}
	}
}
