package observe

import (
	"encoding/json"
	"reflect"
	"testing"
)

// What other programs read stays as it is, letter for letter, and comes back whole.
func TestRecord(t *testing.T) {
	const line = `{"width":1280,"height":960,"found":true,"why":"w","seen":true,"star_px":{"x":1,"y":2},"radius_px":3,` +
		`"shadow_px":4,"offset_px":{"x":5,"y":6},"sigma_px":{"x":7,"y":8},"level":0.5,"clipped":0.25,"flags":["one-side"],` +
		`"facts":{"secondary":0.25,"secondary_sigma":0.01,"pixel_mm":0.00375,"pixel_sigma":0.02}}`
	var r Record
	if err := json.Unmarshal([]byte(line), &r); err != nil {
		t.Fatal(err)
	}
	s := r.Sight(9)
	if again := s.Record(); s.T != 9 || !reflect.DeepEqual(again, r) {
		t.Errorf("%+v became %+v", r, again)
	}
	if got, err := json.Marshal(s.Record()); err != nil || string(got) != line {
		t.Errorf("%v:\n%s\nwant\n%s", err, got, line)
	}
}
