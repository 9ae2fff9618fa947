// Package plain makes what strangers wrote fit to print, to speak and to keep in a
// line: the names and messages of devices, servers and files. They can hold
// characters that steer a terminal, turn the direction of writing, or begin a line
// that looks like one of ours.
package plain

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Text is s with what cannot be printed written out, \u009b for one, and cut to most
// characters.
func Text(s string, most int) string {
	var b strings.Builder
	n := 0
	for i, r := range s {
		if n == most {
			b.WriteString("...")
			break
		}
		n++
		switch {
		case r == utf8.RuneError && !strings.HasPrefix(s[i:], "\uFFFD"):
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case Printable(r):
			b.WriteRune(r)
		case r > 0xffff:
			fmt.Fprintf(&b, `\U%08x`, r)
		default:
			fmt.Fprintf(&b, `\u%04x`, r)
		}
	}
	return b.String()
}

// Printable reports whether r shows as itself and does nothing else: no control or
// format character, no line end, no direction of writing, no private or unassigned one.
func Printable(r rune) bool {
	return r == ' ' || unicode.IsPrint(r)
}

// Visible reports whether s has something to see or to speak.
func Visible(s string) bool {
	return strings.ContainsFunc(s, func(r rune) bool { return unicode.In(r, unicode.L, unicode.N, unicode.P, unicode.S) })
}
