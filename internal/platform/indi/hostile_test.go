package indi

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net"
	"runtime/debug"
	"strings"
	"syscall"
	"testing"
	"time"
)

// hostile is a client of a server that says what say writes, until that ends, the
// client is gone or 5 s are over; and how much memory that took, MB.
func hostile(t *testing.T, say func(w io.Writer) error) (c *Client, took int64) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		conn, err := l.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		go io.Copy(io.Discard, conn) //nolint:errcheck // until it is closed
		time.Sleep(50 * time.Millisecond)
		conn.SetDeadline(time.Now().Add(5 * time.Second)) //nolint:errcheck // a TCP connection has deadlines
		say(conn)                                         //nolint:errcheck // the client may hang up
	}()
	before := peak(t)
	c = dial(t, l.Addr().String())
	c.Expect("Cam", "CCD1", 10<<20)
	<-ended
	<-c.ended
	return c, (peak(t) - before) >> 10
}

func peak(t *testing.T) int64 {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return u.Maxrss
}

// again writes text n times, after a start.
func again(start, text string, n int) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, start)
		for range n {
			if err == nil {
				_, err = io.WriteString(w, text)
			}
		}
		return err
	}
}

// Whatever a server sends takes little memory, and what must end ends in words.
func TestMemory(t *testing.T) {
	// What is kept is meant: on a busy machine what was dropped is collected late.
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(60 << 20))
	pixels := base64.StdEncoding.EncodeToString(make([]byte, 3<<20))
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	for range 300 {
		z.Write(make([]byte, 1<<20))
	}
	z.Close()
	other := defined + `<setBLOBVector device="Other" name="CCD1">`
	for name, c := range map[string]struct {
		say func(io.Writer) error
		end string // of the connection; "": the server's
	}{
		"sizes that are said":   {again(other, `<oneBLOB name="a" format=".fits" size="67108864"></oneBLOB>`, 15000), "beyond all bounds"},
		"ours that are said":    {again(defined+`<setBLOBVector device="Cam" name="CCD1">`, `<oneBLOB name="a" format=".fits" size="67108864"></oneBLOB>`, 900), ""},
		"another's pictures":    {again(other, `<oneBLOB name="a" format=".fits" size="10">`+pixels+`</oneBLOB>`, 40), ""},
		"another's huge one":    {again(other+`<oneBLOB name="a" format=".fits" size="10">`, pixels, 60), ""},
		"a picture without end": {again(defined+`<setBLOBVector device="Cam" name="CCD1"><oneBLOB name="a" format=".fits" size="4294967296">`, pixels, 60), "larger than a picture"},
		"an inflated picture":   {again("", blob(".fits.z", base64.StdEncoding.EncodeToString(packed.Bytes())), 1), "larger than a picture"},
		"pictures unasked":      {again(defined, blob(".fits", pixels), 60), ""},
		"long texts": {func(w io.Writer) error {
			for i := range 100 {
				if _, err := fmt.Fprintf(w, `<defTextVector device="D%d" name="P"><defText name="t">%s</defText></defTextVector>`, i, strings.Repeat("B", 1_000_000)); err != nil {
					return err
				}
			}
			return nil
		}, "beyond all bounds"},
		"elements without end": {again(`<defTextVector device="d" name="n">`, `<defText name="t">x</defText>`, 2000), "beyond all bounds"},
		"depth":                {again("", "<a>", 100_000), "where there cannot be one"},
		"a text without end":   {again(`<defTextVector device="x" name="y"><defText name="z">`, strings.Repeat("A", 65536), 40), "beyond all bounds"},
		"a remark without end": {again("<!--", strings.Repeat("A", 65536), 40), "beyond all bounds"},
	} {
		client, took := hostile(t, c.say)
		if took > 80 {
			t.Errorf("%s: took %d MB", name, took)
		}
		err := client.Err()
		ours := strings.Contains(err.Error(), "beyond") || strings.Contains(err.Error(), "larger")
		if !errors.Is(err, ErrGone) || !strings.Contains(err.Error(), c.end) || c.end == "" && ours {
			t.Errorf("%s: ended with %v, want %q", name, err, c.end)
		}
	}
}

// Once the device is known, the others' properties are not kept, and leave room.
func TestOnly(t *testing.T) {
	c := &Client{props: map[[2]string]*Property{}, blobs: map[[2]string]BLOB{}, messages: map[string]string{}, expected: map[[2]string]int{}}
	say := func(text string) error {
		got, _ := decoded(text)
		for _, m := range got {
			if err := c.take(m); err != nil {
				return err
			}
		}
		return nil
	}
	text := strings.Repeat("x", 3<<18)
	big := func(device string, i int) string {
		return fmt.Sprintf(`<defTextVector device="%s" name="P%d" message="m"><defText name="t">%s</defText></defTextVector>`, device, i, text)
	}
	if err := say(big("Other", 0) + big("Cam", 0)); err != nil {
		t.Fatal(err)
	}
	c.keepOnly("Cam")
	for i := range 20 {
		if err := say(big("Other", i)); err != nil {
			t.Fatalf("another's property %d: %v", i, err)
		}
	}
	if _, ok := c.Get("Other", "P0"); ok {
		t.Error("another's property is kept")
	}
	for range 20 {
		if err := say(big("Cam", 0)); err != nil {
			t.Fatalf("one property, said again: %v", err)
		}
	}
	if c.Message("Other") != "" || c.Message("Cam") != "m" {
		t.Errorf("remarks %v", c.messages)
	}
	var err error
	for i := 0; i < 20 && err == nil; i++ {
		err = say(big("Cam", i))
	}
	if !errors.Is(err, errTooLong) {
		t.Errorf("20 long properties: %v", err)
	}
}

// Names and remarks steer no terminal and begin no line.
func TestStrangersWords(t *testing.T) {
	name := "Cam\u009b31m\u202e&#10;halocue: all is well"
	c, _ := said(t, `<defTextVector device="`+name+`" name="DRIVER_INFO" message="bad`+name+`"><defText name="DRIVER_INTERFACE">2</defText></defTextVector>`)
	devices := c.Devices(ccdBit)
	if len(devices) != 1 {
		t.Fatalf("devices %q", devices)
	}
	d := Device{Client: c, Name: devices[0]}
	for _, text := range []string{d.Title(), c.Message(d.Name)} {
		if strings.ContainsAny(text, "\u009b\u202e\n") {
			t.Errorf("said as %q", text)
		}
	}
}
