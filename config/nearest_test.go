package config

import "testing"

// A name that is nearly right has a nearest one; a word that is like none has not, and there
// may be no names at all.
func TestNearest(t *testing.T) {
	names := []string{"collimate", "star", "scale"}
	for word, want := range map[string]string{"colimate": "collimate", "stat": "star", "sclae": "scale"} {
		if got, ok := Nearest(word, names); !ok || got != want {
			t.Errorf("%s: %q, %v; want %q", word, got, ok, want)
		}
	}
	if got, ok := Nearest("telescope", names); ok {
		t.Errorf("telescope is near %q", got)
	}
	if got, ok := Nearest("star", nil); ok {
		t.Errorf("%q is near where there is nothing", got)
	}
}

// The equator and the meridian of Greenwich are places; where they cross, in the sea, is not
// one.
func TestPlacesThatAreKnown(t *testing.T) {
	for site, want := range map[Site]bool{{}: false, {LatitudeDeg: -33}: true, {LongitudeDeg: 37}: true, {LatitudeDeg: 51, LongitudeDeg: 7}: true} {
		if site.Known() != want {
			t.Errorf("%+v: known %v", site, !want)
		}
	}
}
