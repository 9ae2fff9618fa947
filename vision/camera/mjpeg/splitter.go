// Package mjpeg takes a stream of JPEG pictures apart: one JPEG after the other,
// as camera tools pipe them, with or without the headers that HTTP puts in
// between (multipart/x-mixed-replace).
package mjpeg

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

// defaultMaxBytes bounds one picture; a 1280x960 JPEG takes a few hundred kB.
const defaultMaxBytes = 16 << 20

// maxGarbage bounds what may stand before the first picture, or between two.
const maxGarbage = 16 << 20

var (
	// ErrBroken says that a picture in the stream is cut short, too large or
	// no valid JPEG. It is not final: the splitter finds the next one.
	ErrBroken = errors.New("broken picture in the stream")

	// ErrNoJPEG says that the stream holds something else than JPEG pictures.
	// It is final.
	ErrNoJPEG = errors.New("no JPEG picture in the stream; have the camera tool write MJPEG to its standard output")
)

// Splitter reads pictures from a stream. It follows the marker segments of
// ITU-T T.81 annex B, so that it knows a picture's end from its own bytes: the
// picture is handed over as soon as its EOI marker has arrived, without waiting
// for anything after it. It takes from the reader only what one Read gives, and
// reads only when no whole picture is at hand.
type Splitter struct {
	r        io.Reader
	maxBytes int

	buf        []byte
	start, end int // unread bytes are buf[start:end]; a picture begins at start once begun
	pos        int // parsed up to here, absolute in buf
	begun      bool
	inScan     bool // within entropy-coded data
	garbage    int  // bytes thrown away since the last picture
	any        bool // at least one picture came
	err        error
}

// NewSplitter reads from r. A picture of more than maxBytes is broken; 0 means
// defaultMaxBytes.
func NewSplitter(r io.Reader, maxBytes int) *Splitter {
	if maxBytes <= 0 {
		maxBytes = defaultMaxBytes
	}
	return &Splitter{r: r, maxBytes: maxBytes, buf: make([]byte, 64<<10)}
}

// Next returns the bytes of the next picture, from SOI to EOI, valid until the
// next call. ErrBroken (wrapped) is not final; every other error is: io.EOF at
// the end of the stream, ErrNoJPEG, or the reader's own.
func (s *Splitter) Next() ([]byte, error) {
	for {
		done, broken := s.parse()
		switch {
		case broken != nil:
			return nil, broken
		case done:
			picture := s.buf[s.start:s.pos]
			s.start, s.begun, s.inScan, s.garbage = s.pos, false, false, 0
			s.any = true
			return picture, nil
		case s.garbage > maxGarbage:
			s.err = ErrNoJPEG
		}
		if s.err != nil {
			return nil, s.finish()
		}
		s.fill()
	}
}

// finish is the end of the stream; a picture that it cuts short is reported first.
func (s *Splitter) finish() error {
	if s.begun {
		s.begun, s.start = false, s.end
		if s.err == io.EOF {
			return fmt.Errorf("%w: the stream ends within it", ErrBroken)
		}
	}
	if s.err == io.EOF && !s.any && s.garbage > 0 {
		s.err = ErrNoJPEG
	}
	return s.err
}

// fill reads once.
func (s *Splitter) fill() {
	if s.start > 0 && (s.start == s.end || s.end == len(s.buf)) {
		copy(s.buf, s.buf[s.start:s.end])
		s.pos, s.end, s.start = s.pos-s.start, s.end-s.start, 0
	}
	if s.end == len(s.buf) {
		s.buf = append(s.buf, make([]byte, len(s.buf))...)
	}
	n, err := s.r.Read(s.buf[s.end:])
	s.end += n
	s.err = err
}

// parse goes on through the bytes at hand. Done: buf[start:pos] is a picture.
// Neither done nor broken: more bytes are needed.
func (s *Splitter) parse() (done bool, broken error) {
	for {
		if !s.begun && !s.seek() {
			return false, nil
		}
		more := s.inScan && !s.skipScan()
		if s.pos-s.start > s.maxBytes {
			return false, s.abandon("it is larger than %d MB", s.maxBytes>>20)
		}
		if more || s.pos >= s.end {
			return false, nil
		}
		// pos stands at a marker: FF, any number of further FF, and a code.
		if s.buf[s.pos] != 0xff {
			return false, s.abandon("a marker is missing")
		}
		p := s.pos + 1
		for p < s.end && s.buf[p] == 0xff {
			p++
		}
		if p >= s.end {
			return false, nil
		}
		switch code := s.buf[p]; {
		case code == 0xd9: // EOI
			s.pos = p + 1
			return true, nil
		case code == 0xd8: // SOI: the picture before it was cut short
			s.start, s.pos, s.inScan = p-1, p+1, false
			return false, fmt.Errorf("%w: it is cut short", ErrBroken)
		case code == 0x00:
			return false, s.abandon("a marker is missing")
		case code >= 0xd0 && code <= 0xd7 || code == 0x01: // RSTn, TEM: no length
			s.pos = p + 1
		default:
			if p+2 >= s.end {
				return false, nil
			}
			length := int(s.buf[p+1])<<8 | int(s.buf[p+2])
			if length < 2 {
				return false, s.abandon("a segment has no length")
			}
			s.pos = p + 1 + length
			s.inScan = code == 0xda // SOS
		}
	}
}

// seek finds the next SOI and throws away what stands before it.
func (s *Splitter) seek() bool {
	i := bytes.Index(s.buf[s.start:s.end], []byte{0xff, 0xd8, 0xff})
	if i < 0 {
		drop := max(0, s.end-s.start-2) // an SOI may be half here
		s.garbage += drop
		s.start += drop
		s.pos = s.start
		return false
	}
	s.garbage += i
	s.start += i
	s.pos, s.begun, s.inScan = s.start+2, true, false
	return true
}

// skipScan goes on to the marker that ends the entropy-coded data: there an FF
// of the data is followed by 00, and RSTn belong to it.
func (s *Splitter) skipScan() bool {
	for s.pos < s.end {
		i := bytes.IndexByte(s.buf[s.pos:s.end], 0xff)
		if i < 0 {
			s.pos = s.end
			return false
		}
		s.pos += i
		p := s.pos + 1
		for p < s.end && s.buf[p] == 0xff {
			p++
		}
		if p >= s.end {
			return false
		}
		if code := s.buf[p]; code != 0 && (code < 0xd0 || code > 0xd7) {
			s.inScan = false
			return true
		}
		s.pos = p + 1
	}
	return false
}

// abandon gives the picture up and lets seek go on right behind its SOI.
func (s *Splitter) abandon(format string, a ...any) error {
	s.start += 2
	s.pos, s.begun, s.inScan = s.start, false, false
	return fmt.Errorf("%w: %s", ErrBroken, fmt.Sprintf(format, a...))
}
