package setup

import (
	"strconv"
	"strings"
)

// inch in mm, exact since 1959.
const inch = 25.4

// threads are the pitches in mm of the threads that mirror cells have: ISO 261
// coarse, and ASME B1.1 (UNC, UNF) as threads per inch.
var threads = map[string]float64{
	"M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1.0, "M8": 1.25,
	"8-32": inch / 32, "10-24": inch / 24, "10-32": inch / 32, "1/4-20": inch / 20,
}

// parseThread reads a thread's name, M6x0.75, 20 tpi, or a pitch in mm. It returns
// the name, "" where there is none, and the pitch in mm.
func parseThread(text string) (name string, pitch float64, err error) {
	t := strings.ToUpper(strings.Join(strings.Fields(text), " "))
	for _, tail := range []string{" UNC", " UNF"} {
		t = strings.TrimSuffix(t, tail)
	}
	t = strings.TrimPrefix(t, "#")
	if tpi, ok := strings.CutSuffix(t, "TPI"); ok {
		n, err := number(tpi)
		if err != nil || n <= 0 {
			return "", 0, slipOf("no-tpi", text)
		}
		return "", inch / n, nil
	}
	compact := strings.ReplaceAll(t, " ", "")
	if pitch, ok := threads[compact]; ok {
		return compact, pitch, nil
	}
	dashed := strings.ReplaceAll(t, " ", "-")
	if pitch, ok := threads[dashed]; ok {
		return dashed, pitch, nil
	}
	if rest, ok := strings.CutPrefix(compact, "M"); ok && rest != "M" {
		size, fine, ok := strings.Cut(strings.ReplaceAll(rest, "×", "X"), "X")
		pitch, err := strconv.ParseFloat(fine, 64)
		if _, bad := strconv.ParseFloat(size, 64); ok && err == nil && bad == nil {
			return "M" + size + "x" + fine, pitch, nil
		}
		return "", 0, slipOf("no-metric", text)
	}
	pitch, err = millimetres(text)
	if err != nil {
		return "", 0, slipOf("no-thread", text)
	}
	return "", pitch, nil
}
