package indi

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// message is one top-level element of the stream.
type message struct {
	name     string // defNumberVector, setBLOBVector, delProperty, message, ...
	device   string
	property string
	state    State
	text     string // the remark that came with it
	elements []element
	blobs    []BLOB
}

type element struct {
	name, text     string
	min, max, step string
}

// decoder reads messages, each of bounded size.
type decoder struct {
	limit *limited
	xml   *xml.Decoder
}

func newDecoder(r io.Reader) *decoder {
	l := &limited{Reader: bufio.NewReaderSize(r, 64<<10)}
	x := xml.NewDecoder(l) // an io.ByteReader: it reads no byte ahead, so BLOBs can be taken from under it
	x.Strict = false
	return &decoder{limit: l, xml: x}
}

var errTooLong = errors.New("the server sends a message beyond all bounds")

// limited fails after maxElement bytes; next starts to count anew.
type limited struct {
	*bufio.Reader
	left int
}

func (l *limited) ReadByte() (byte, error) {
	if l.left <= 0 {
		return 0, errTooLong
	}
	l.left--
	return l.Reader.ReadByte()
}

// next reads one message.
func (d *decoder) next() (message, error) {
	d.limit.left = maxElement
	for {
		token, err := d.xml.Token()
		if err != nil {
			return message{}, err
		}
		if start, ok := token.(xml.StartElement); ok {
			return d.message(start)
		}
	}
}

func (d *decoder) message(start xml.StartElement) (message, error) {
	m := message{
		name: start.Name.Local, device: attr(start, "device"), property: attr(start, "name"),
		state: State(attr(start, "state")), text: attr(start, "message"),
	}
	for {
		token, err := d.xml.Token()
		if err != nil {
			return m, err
		}
		switch t := token.(type) {
		case xml.EndElement: // ours: the elements below read their own
			return m, nil
		case xml.StartElement:
			if t.Name.Local == "oneBLOB" {
				err = d.blob(&m, t)
			} else {
				err = d.element(&m, t)
			}
			if err != nil {
				return m, err
			}
		}
	}
}

func (d *decoder) element(m *message, start xml.StartElement) error {
	var text strings.Builder
	for {
		token, err := d.xml.Token()
		if err != nil {
			return err
		}
		switch t := token.(type) {
		case xml.EndElement:
			m.elements = append(m.elements, element{
				name: attr(start, "name"), text: strings.TrimSpace(text.String()),
				min: attr(start, "min"), max: attr(start, "max"), step: attr(start, "step"),
			})
			return nil
		case xml.CharData:
			text.Write(t)
		case xml.StartElement:
			return fmt.Errorf("the server sends a <%s> where there cannot be one", t.Name.Local)
		}
	}
}

// blob reads base64 straight from the buffer: the XML decoder would look at
// each of its millions of characters several times.
func (d *decoder) blob(m *message, start xml.StartElement) error {
	b := BLOB{Device: m.device, Property: m.property, Element: attr(start, "name"), Format: attr(start, "format")}
	r := io.Reader(base64.NewDecoder(base64.StdEncoding, untilTag{d.limit.Reader}))
	compressed := strings.HasSuffix(b.Format, ".z")
	if size, err := strconv.Atoi(attr(start, "size")); err == nil && size > 0 && size <= maxBLOB && !compressed {
		b.Data = make([]byte, 0, min(size, 64<<20)+1) // the server's word is good for a first guess only
	}
	var err error
	if b.Data, err = readAll(b.Data, r); err != nil {
		return fmt.Errorf("reading a picture from the server: %w", err)
	}
	if compressed {
		b.Format = strings.TrimSuffix(b.Format, ".z")
		z, err := zlib.NewReader(bytes.NewReader(b.Data))
		if err != nil {
			return fmt.Errorf("unpacking a picture from the server: %w", err)
		}
		if b.Data, err = readAll(nil, z); err != nil {
			return fmt.Errorf("unpacking a picture from the server: %w", err)
		}
	}
	for { // to the end tag
		token, err := d.xml.Token()
		if err != nil {
			return err
		}
		switch token.(type) {
		case xml.EndElement:
			m.blobs = append(m.blobs, b)
			return nil
		case xml.StartElement:
			return errors.New("the server sends a tag within a picture")
		}
	}
}

// readAll is io.ReadAll into buf, with an end.
func readAll(buf []byte, r io.Reader) ([]byte, error) {
	w := bytes.NewBuffer(buf)
	n, err := io.Copy(w, io.LimitReader(r, maxBLOB+1))
	if err == nil && n > maxBLOB {
		err = errTooLong
	}
	return w.Bytes(), err
}

// untilTag reads up to the next "<", which it leaves. White space is dropped.
type untilTag struct{ r *bufio.Reader }

func (u untilTag) Read(p []byte) (int, error) {
	if _, err := u.r.Peek(1); err != nil {
		return 0, noEOF(err)
	}
	chunk, err := u.r.Peek(min(u.r.Buffered(), len(p)))
	if err != nil {
		return 0, noEOF(err)
	}
	if i := bytes.IndexByte(chunk, '<'); i >= 0 {
		chunk = chunk[:i]
		if i == 0 {
			return 0, io.EOF
		}
	}
	n := 0
	for _, c := range chunk {
		if c > ' ' {
			p[n] = c
			n++
		}
	}
	_, err = u.r.Discard(len(chunk))
	return n, err
}

func noEOF(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
