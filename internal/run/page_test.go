package run

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"os"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"halocue/internal/record"
)

// events are all that a transcript may hold.
var events = map[string]any{
	"measure": measureEvent{}, "look": downEvent{}, "decide": decideEvent{}, "say": sayEvent{}, "said": saidEvent{}, "signal": signalEvent{},
	"tone": toneEvent{}, "stage": stageEvent{}, "learned": learnedEvent{}, "command": commandEvent{}, "device": deviceEvent{}, "frame": record.FrameEvent{},
}

// fields are the names of a type's fields as JSON has them, those of a structure in it
// behind its name and a dot. Vectors and lists are one field.
func fields(t reflect.Type, before string) (all []string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "" {
			name = f.Name
		}
		inner := f.Type
		if inner.Kind() == reflect.Pointer {
			inner = inner.Elem()
		}
		switch {
		case f.Anonymous:
			all = append(all, fields(inner, before)...)
		case inner.Kind() == reflect.Struct && inner.NumField() > 2:
			all = append(append(all, before+name), fields(inner, before+name+".")...)
		default:
			all = append(all, before+name)
		}
	}
	return all
}

// The page of the transcript has every event and field of the code, and of a night, and
// no other.
func TestTranscriptPage(t *testing.T) {
	page, err := os.ReadFile("../../docs/transcript.md")
	if err != nil {
		t.Fatal(err)
	}
	told := map[string]map[string]bool{}
	names := regexp.MustCompile("`([^`]+)`")
	event := ""
	for _, line := range strings.Split(string(page), "\n") {
		if title, ok := strings.CutPrefix(line, "## `"); ok {
			event = strings.TrimSuffix(title, "`")
			told[event] = map[string]bool{"t": true, "event": true}
		} else if strings.HasPrefix(line, "| `") {
			for _, name := range names.FindAllStringSubmatch(strings.Split(line, "|")[1], -1) {
				told[event][name[1]] = true
			}
		}
	}
	told["learned"]["memory"] = true // its fields have rows of their own
	for event, e := range events {
		known := map[string]bool{}
		for _, name := range fields(reflect.TypeOf(e), "") {
			known[name] = true
		}
		if !maps.Equal(known, told[event]) {
			t.Errorf("%s: the code has %v\nthe page %v", event, slices.Sorted(maps.Keys(known)), slices.Sorted(maps.Keys(told[event])))
		}
	}
	if len(told) != len(events) {
		t.Errorf("the page tells of the events %v, the code has %d", slices.Sorted(maps.Keys(told)), len(events))
	}

	d := newDream(7)
	var out bytes.Buffer
	if _, err := Frames(context.Background(), parts(t, d, &out), d.fps); err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
		var e map[string]any
		if err := json.Unmarshal([]byte(line), &e); err != nil {
			t.Fatal(err)
		}
		event, _ := e["event"].(string)
		memory, _ := e["memory"].(map[string]any)
		for name := range e {
			if !told[event][name] {
				t.Errorf("a night has %q in %q, the page has not", name, event)
			}
		}
		for name := range memory {
			if !told[event]["memory."+name] {
				t.Errorf("a night has memory.%s in %q, the page has not", name, event)
			}
		}
	}
}
