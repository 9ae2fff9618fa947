package setup

import (
	"strings"
	"testing"
)

// Questions are for the ear: one short sentence each.
func TestWords(t *testing.T) {
	used := map[string]bool{"say": true, "exists": true, "broken": true, "profile": true, "keep": true}
	for _, q := range questions {
		used[q.id] = true
	}
	for id := range used {
		if id == "say" {
			continue
		}
		for _, key := range []string{"name", "ask", "help"} {
			if words[id][key] == "" {
				t.Errorf("[%s] has no %s", id, key)
			}
		}
		ask, help := words[id]["ask"], words[id]["help"]
		if !strings.HasSuffix(ask, "?") || strings.Contains(ask, ". ") || strings.Count(ask, "?") != 1 || len(strings.Fields(ask)) > 16 {
			t.Errorf("[%s] asks more than one short question: %s", id, ask)
		}
		if !strings.HasSuffix(help, ".") || strings.Contains(help, ". ") || len(strings.Fields(help)) > 25 {
			t.Errorf("[%s] helps with more than one sentence: %s", id, help)
		}
	}
	for id := range words {
		if !used[id] {
			t.Errorf("[%s] of words.toml is never said", id)
		}
	}
}
