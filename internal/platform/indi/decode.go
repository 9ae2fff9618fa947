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

	// most is how many bytes a BLOB of the property may have; 0: it is passed over,
	// nothing of it kept.
	most func(device, property string) int
}

func newDecoder(r io.Reader, most func(device, property string) int) *decoder {
	l := &limited{buffer: bufio.NewReaderSize(r, 64<<10)}
	x := xml.NewDecoder(l) // an io.ByteReader: it reads no byte ahead, so BLOBs can be taken from under it
	x.Strict = false
	return &decoder{limit: l, xml: x, most: most}
}

var errTooLong = errors.New("the server sends a message beyond all bounds")

// limited fails after maxElement bytes; next starts to count anew. The XML decoder
// reads byte by byte; it must not find another way.
type limited struct {
	buffer *bufio.Reader
	left   int
}

func (l *limited) ReadByte() (byte, error) {
	if l.left <= 0 {
		return 0, errTooLong
	}
	l.left--
	return l.buffer.ReadByte()
}

func (l *limited) Read(p []byte) (int, error) {
	n, err := l.buffer.Read(p[:min(len(p), l.left)])
	if l.left -= n; n == 0 && err == nil && l.left <= 0 {
		err = errTooLong
	}
	return n, err
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
	parts := 0
	for {
		token, err := d.xml.Token()
		if err != nil {
			return m, err
		}
		switch t := token.(type) {
		case xml.EndElement: // ours: the elements below read their own
			return m, nil
		case xml.StartElement:
			if parts++; parts > maxElements {
				return m, errTooLong
			}
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
// each of its millions of characters several times. One message holds one picture:
// of several the last.
func (d *decoder) blob(m *message, start xml.StartElement) error {
	b := BLOB{Device: m.device, Property: m.property, Format: attr(start, "format")}
	m.blobs = nil
	text := untilTag{d.limit.buffer}
	most := d.most(m.device, m.property)
	if most == 0 {
		if _, err := io.Copy(io.Discard, text); err != nil {
			return fmt.Errorf("passing over a picture from the server: %w", err)
		}
		return d.endOfBLOB()
	}
	compressed := strings.HasSuffix(b.Format, ".z")
	expected := 0
	if size, err := strconv.Atoi(attr(start, "size")); err == nil && !compressed {
		expected = size // its word is good for a first guess only
	}
	var err error
	if b.Data, err = readAll(base64.NewDecoder(base64.StdEncoding, text), expected, most); err != nil {
		return fmt.Errorf("reading a picture from the server: %w", err)
	}
	if compressed {
		b.Format = strings.TrimSuffix(b.Format, ".z")
		if b.Data, err = inflate(b.Data, most); err != nil {
			return fmt.Errorf("unpacking a picture from the server: %w", err)
		}
	}
	if err := d.endOfBLOB(); err != nil {
		return err
	}
	m.blobs = []BLOB{b}
	return nil
}

// endOfBLOB reads to the end tag.
func (d *decoder) endOfBLOB() error {
	for {
		token, err := d.xml.Token()
		if err != nil {
			return err
		}
		switch token.(type) {
		case xml.EndElement:
			return nil
		case xml.StartElement:
			return errors.New("the server sends a tag within a picture")
		}
	}
}

// inflate unpacks data, into memory that is made once: a buffer that grows takes more
// than twice what it holds.
func inflate(data []byte, most int) ([]byte, error) {
	z, err := zlib.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	n, err := io.Copy(io.Discard, io.LimitReader(z, int64(most)+1))
	if err != nil {
		return nil, err
	}
	if n > int64(most) {
		return nil, errTooLarge
	}
	if z, err = zlib.NewReader(bytes.NewReader(data)); err != nil {
		return nil, err
	}
	unpacked := make([]byte, n)
	_, err = io.ReadFull(z, unpacked)
	return unpacked, err
}

var errTooLarge = errors.New("it is larger than a picture of this camera can be")

// readAll is io.ReadAll with a bound. Expected is the announced size: the buffer grows
// toward it only as bytes come.
func readAll(r io.Reader, expected, most int) ([]byte, error) {
	buf := make([]byte, 0, min(max(expected, 0), most, 1<<20)+bytes.MinRead)
	for {
		if len(buf) == cap(buf) {
			room := 2 * cap(buf)
			if expected > len(buf) {
				room = min(room*2, expected+bytes.MinRead)
			}
			larger := make([]byte, len(buf), max(min(room, most+bytes.MinRead), len(buf)+bytes.MinRead))
			copy(larger, buf)
			buf = larger
		}
		n, err := r.Read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		switch {
		case len(buf) > most:
			return nil, errTooLarge
		case err == io.EOF:
			return buf, nil
		case err != nil:
			return nil, err
		}
	}
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
