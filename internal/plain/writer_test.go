package plain

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode"
)

func TestWriter(t *testing.T) {
	for _, c := range []struct {
		parts   []string
		remarks bool
		want    string
	}{
		{[]string{"Größe \u00b1 \u661f\tx\n"}, false, "Größe \u00b1 \u661f\tx\n"},
		{[]string{"a\x1b[2J\u009b31m\u202eb\r\n"}, false, `a\u001b[2J\u009b31m\u202eb\u000d` + "\n"},
		{[]string{"zero\u200bwidth\u2028\ufeff"}, false, `zero\u200bwidth\u2028\ufeff`},
		{[]string{"\xe2\x80", "\xae\xc3", "\xa4\n"}, false, "\\u202e\u00e4\n"},
		{[]string{"cut \xff\n"}, false, "cut \\u00ff\n"},
		{[]string{"halocue: x\nhalocue: all is well\n", "next\n"}, true, "halocue: x\n  halocue: all is well\nnext\n"},
		{[]string{"half \xe2\n"}, true, "half \\u00e2\n"},
	} {
		var b bytes.Buffer
		w := Writer{To: &b, Remarks: c.remarks}
		for _, p := range c.parts {
			if n, err := w.Write([]byte(p)); n != len(p) || err != nil {
				t.Errorf("%q: %d, %v", p, n, err)
			}
		}
		if b.String() != c.want {
			t.Errorf("%q becomes %q, want %q", c.parts, b.String(), c.want)
		}
	}
}

// What is written as JSON is read as it was, and nothing in it steers a terminal.
func FuzzWriterJSON(f *testing.F) {
	f.Add("a\u009b31m\u202e\U000e0041\n\x1b\ufeff")
	f.Fuzz(func(t *testing.T, text string) {
		text = strings.ToValidUTF8(text, "?")
		var b bytes.Buffer
		if err := json.NewEncoder(&Writer{To: &b}).Encode(text); err != nil {
			t.Fatal(err)
		}
		if line := strings.TrimSuffix(b.String(), "\n"); strings.ContainsFunc(line, unicode.IsControl) || strings.ContainsAny(line, "\u202e\u200b\u2028\ufeff") {
			t.Errorf("%q", line)
		}
		var back string
		if err := json.Unmarshal(b.Bytes(), &back); err != nil || back != text {
			t.Errorf("%q comes back as %q, %v", text, back, err)
		}
	})
}
