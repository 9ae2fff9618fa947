package plain

import (
	"bytes"
	"fmt"
	"io"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// Writer passes text on with every character that steers a terminal or turns the direction
// of writing replaced by its escape, such as \u009b. Within a JSON string that means the
// same as before.
type Writer struct {
	To io.Writer
	// Remarks says that each Write is one remark: a further line of it is indented, so
	// that it cannot pass for a remark of its own.
	Remarks bool

	rest []byte // the first bytes of a character
}

// Write is io.Writer's.
func (w *Writer) Write(p []byte) (int, error) {
	b := append(w.rest, p...)
	var out bytes.Buffer
	for len(b) > 0 && (utf8.FullRune(b) || w.Remarks) {
		r, n := utf8.DecodeRune(b)
		switch {
		case r == '\n' && w.Remarks && n < len(b):
			out.WriteString("\n  ")
		case r == '\n' || r == '\t':
			out.WriteRune(r)
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&out, `\u%04x`, b[0])
		case !unicode.In(r, unicode.C, unicode.Zl, unicode.Zp):
			out.Write(b[:n])
		case r > 0xffff:
			first, second := utf16.EncodeRune(r)
			fmt.Fprintf(&out, `\u%04x\u%04x`, first, second)
		default:
			fmt.Fprintf(&out, `\u%04x`, r)
		}
		b = b[n:]
	}
	w.rest = append(w.rest[:0], b...)
	if _, err := w.To.Write(out.Bytes()); err != nil {
		return 0, err
	}
	return len(p), nil
}
