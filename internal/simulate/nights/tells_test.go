package nights

import (
	"testing"
)

// A person who says each time that the focuser has gone through focus, seen or not, is
// believed, and gets to a claim as soon as one who says nothing.
func TestWordOfTheOtherSide(t *testing.T)      { wordOfTheOtherSide(t, few) }
func TestProveWordOfTheOtherSide(t *testing.T) { wordOfTheOtherSide(t, many/2) }

func wordOfTheOtherSide(t *testing.T, count int) {
	draw := DrawOptions{Width: 960, Height: 720, Pixel: 0.005}
	rs, err := RunAll(4001, count, Options{Draw: draw, Tells: true})
	if err != nil {
		t.Fatal(err)
	}
	s := Summarise(rs)
	if s.False > 0 || s.Aligned < s.Nights-max(1, s.Nights/20) || count > few && (s.Sides.P50 > 4 || s.Seconds.P50 > 100) {
		t.Errorf("of %d nights %d aligned, %d false; seconds %v, other-side cues %v", s.Nights, s.Aligned, s.False, s.Seconds.P50, s.Sides.P50)
	}
}
