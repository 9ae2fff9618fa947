package device

import "testing"

// A number is one of the list, and never a digit in another's name; a part of a name will
// do, in any case of letters.
func TestPick(t *testing.T) {
	names := []string{"HDA: Analog 2 (hw:0,0)", "USB Headset", "hdmi 1"}
	for name, want := range map[string]int{"1": 0, "2": 1, "3": 2, "headset": 1, "HDMI": 2, "hw:0": 0} {
		if got, err := pick(names, name); err != nil || got != want {
			t.Errorf("%q is %d, want %d, %v", name, got, want, err)
		}
	}
	for _, name := range []string{"0", "4", "-1", "bluetooth"} {
		if got, err := pick(names, name); err == nil {
			t.Errorf("%q is %d", name, got)
		}
	}
}
