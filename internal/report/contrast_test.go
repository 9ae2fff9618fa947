package report

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"
)

// luminance is the relative luminance of an sRGB colour (WCAG 2.2, "relative luminance",
// www.w3.org/TR/WCAG22/#dfn-relative-luminance).
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	var rgb [3]uint8
	if _, err := fmt.Sscanf(hex, "#%02x%02x%02x", &rgb[0], &rgb[1], &rgb[2]); err != nil {
		t.Fatalf("%q is no colour: %v", hex, err)
	}
	l := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		c := float64(rgb[i]) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		l += weight * c
	}
	return l
}

// contrast is the contrast ratio of two colours (WCAG 2.2, "contrast ratio").
func contrast(t *testing.T, a, b string) float64 {
	t.Helper()
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// Values from memory: black on white is 21 by definition, #767676 on white is the lightest
// grey that has 4.5.
func TestContrastFormula(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want float64
	}{{"#000000", "#ffffff", 21}, {"#ffffff", "#ffffff", 1}, {"#767676", "#ffffff", 4.54}, {"#777777", "#ffffff", 4.48}} {
		if got := contrast(t, c.a, c.b); math.Abs(got-c.want) > 0.005 {
			t.Errorf("%s on %s is %.3f, want %.2f", c.a, c.b, got, c.want)
		}
	}
}

// Each look has the contrast of WCAG 2.2 AA: 4.5 for text (1.4.3), 3 for what must be seen
// of drawings (1.4.11). The red look has nothing but red in it.
func TestContrastOfEveryLook(t *testing.T) {
	block := regexp.MustCompile(`:root(\.red)? \{ color-scheme: (\w+);([^}]*)\}`)
	value := regexp.MustCompile(`--(\w+): (#\w{6});`)
	looks := block.FindAllStringSubmatch(style, -1)
	if len(looks) != 3 {
		t.Fatalf("%d looks", len(looks))
	}
	for _, look := range looks {
		name := strings.Trim(look[1]+" "+look[2], " .")
		colour := map[string]string{}
		for _, v := range value.FindAllStringSubmatch(look[3], -1) {
			colour[v[1]] = v[2]
		}
		for _, pair := range []struct {
			on, under string
			least     float64
		}{
			{"ink", "page", 4.5}, {"ink", "band", 4.5}, {"muted", "page", 4.5},
			{"line", "page", 3}, {"line", "band", 3}, {"mark", "page", 3}, {"mark", "band", 3}, {"edge", "page", 3},
		} {
			if got := contrast(t, colour[pair.on], colour[pair.under]); got < pair.least {
				t.Errorf("%s: %s on %s is %.2f, less than %g", name, pair.on, pair.under, got, pair.least)
			}
		}
		for what, c := range colour {
			if look[1] == ".red" && !strings.HasSuffix(c, "0000") {
				t.Errorf("the red look's %s is %s", what, c)
			}
		}
	}
	// No other colour stands in the style sheet.
	if rest := regexp.MustCompile(`#[0-9a-f]{3,8}\b`).FindAllString(block.ReplaceAllString(style, ""), -1); rest != nil {
		t.Errorf("colours outside of the looks: %v", rest)
	}
}
