package house

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// Every sentence of the tools is said: by its whole key, or by the part that a key is put
// together from.
func TestEveryToolSentenceIsSaid(t *testing.T) {
	files := text(t)
	var words map[string]map[string]string
	if err := toml.Unmarshal(files["prompts/tools/en.toml"], &words); err != nil || len(words) < 5 {
		t.Fatalf("%d sections, %v", len(words), err)
	}
	var source strings.Builder
	for path, b := range files {
		if filepath.Ext(path) == ".go" && !strings.HasSuffix(path, "_test.go") {
			source.Write(b)
		}
	}
	said := func(section, key string) bool {
		for _, dynamic := range []string{"", "note-", "why-", "wind-", "side-"} {
			if part, ok := strings.CutPrefix(key, dynamic); ok && strings.Contains(source.String(), `"`+part+`"`) {
				return true
			}
		}
		return strings.Contains(source.String(), `"`+section+"."+key+`"`) || strings.HasPrefix(key, "light-")
	}
	for section, texts := range words {
		for key := range texts {
			if !said(section, key) {
				t.Errorf("nothing says %s.%s: delete it from every file in prompts/tools, or say it", section, key)
			}
		}
	}
	if said("star", "no-such-sentence") {
		t.Error("a sentence that is nowhere counts as said")
	}
}
