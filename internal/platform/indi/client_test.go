package indi

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"context"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"halocue/internal/platform/indi/inditest"
	"halocue/vision/visiontest"
)

func soon(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	t.Cleanup(cancel)
	return ctx
}

func dial(t *testing.T, address string) *Client {
	t.Helper()
	c, err := Dial(soon(t), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// The real server with the real simulators is the peer.
func TestDiscoverConnectMove(t *testing.T) {
	address, _ := inditest.Server(t, inditest.FreePort(t), "indi_simulator_ccd", "indi_simulator_focus", "indi_simulator_telescope")
	c := dial(t, address)
	for bits, want := range map[int]string{ccdBit: "CCD Simulator", focuserBit: "Focuser Simulator", telescopeBit: "Telescope Simulator"} {
		if err := c.Wait(soon(t), func() bool { return slices.Contains(c.Devices(bits), want) }); err != nil {
			t.Fatalf("%s: %v; devices %v", want, err, c.Devices(-1))
		}
	}
	const focuser = "Focuser Simulator"
	if err := c.SetSwitch(focuser, "CONNECTION", "CONNECT"); err != nil {
		t.Fatal(err)
	}
	ready := func() bool { _, ok := c.Get(focuser, "ABS_FOCUS_POSITION"); return ok }
	if err := c.Wait(soon(t), ready); err != nil {
		t.Fatal(err)
	}
	at := func() float64 {
		p, _ := c.Get(focuser, "ABS_FOCUS_POSITION")
		return p.Elements["FOCUS_ABSOLUTE_POSITION"].Number
	}
	p, _ := c.Get(focuser, "ABS_FOCUS_POSITION")
	if e := p.Elements["FOCUS_ABSOLUTE_POSITION"]; !(e.Max > e.Min) {
		t.Errorf("limits %g to %g", e.Min, e.Max)
	}
	before := at()
	if err := c.SetNumbers(focuser, "ABS_FOCUS_POSITION", map[string]float64{"FOCUS_ABSOLUTE_POSITION": before + 250}); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(soon(t), func() bool {
		p, _ := c.Get(focuser, "ABS_FOCUS_POSITION")
		return p.State == Ok && at() == before+250
	}); err != nil {
		t.Errorf("the focuser stands at %g, sent from %g to %g: %v", at(), before, before+250, err)
	}
}

func TestServerGone(t *testing.T) {
	address, stop := inditest.Server(t, inditest.FreePort(t), "indi_simulator_focus")
	c := dial(t, address)
	stop()
	err := c.Wait(soon(t), func() bool { return false })
	if !errors.Is(err, ErrGone) || !strings.Contains(err.Error(), "; ") {
		t.Errorf("got %v, want ErrGone and a next step", err)
	}
	if _, err := Dial(soon(t), address); err == nil || !strings.Contains(err.Error(), "check that it runs") {
		t.Errorf("dialling nobody: %v", err)
	}
}

func TestClosedClient(t *testing.T) {
	address, _ := inditest.Server(t, inditest.FreePort(t), "indi_simulator_focus")
	c := dial(t, address)
	woken := make(chan error)
	go func() { woken <- c.Wait(context.Background(), func() bool { return false }) }()
	if err := c.Close(); err != nil {
		t.Error(err)
	}
	if err := <-woken; !errors.Is(err, ErrGone) {
		t.Errorf("the wait ends with %v", err)
	}
	if err := c.Close(); err != nil {
		t.Errorf("second close: %v", err)
	}
}

// said is a client to whom a server has said text.
func said(t *testing.T, text string) (*Client, error) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		conn, err := l.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		for asked := bufio.NewScanner(conn); asked.Scan() && !strings.Contains(asked.Text(), "enableBLOB"); {
		}
		io.WriteString(conn, text)
	}()
	c := dial(t, l.Addr().String())
	c.Expect("Cam", "CCD1", MaxBLOB)
	if err := c.EnableBLOBs("Cam"); err != nil {
		t.Fatal(err)
	}
	<-c.ended
	return c, c.Wait(t.Context(), func() bool { return false })
}

const defined = `<defBLOBVector device="Cam" name="CCD1" state="Idle"><defBLOB name="CCD1"/></defBLOBVector>`

func blob(format, data string) string {
	return fmt.Sprintf(`%s<setBLOBVector device="Cam" name="CCD1" state="Ok"><oneBLOB name="CCD1" size="%d" format="%s">
%s
</oneBLOB></setBLOBVector>`, defined, len(data), format, data)
}

// decoded reads text with the decoder alone, as the client would.
func decoded(text string) (got []message, err error) {
	d := newDecoder(strings.NewReader(text), func(string, string) int { return 1 << 23 })
	for {
		m, err := d.next()
		if err != nil {
			return got, err
		}
		got = append(got, m)
	}
}

func TestBLOBs(t *testing.T) {
	data := bytes.Repeat([]byte("SIMPLE  = star \x00\xff"), 20_000)
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	z.Write(data)
	z.Close()
	lines := func(b []byte) string { // as the server sends it: lines of 72
		s := base64.StdEncoding.EncodeToString(b)
		var out strings.Builder
		for i := 0; i < len(s); i += 72 {
			out.WriteString(s[i:min(i+72, len(s))] + "\n")
		}
		return out.String()
	}
	for format, text := range map[string]string{".fits": lines(data), ".fits.z": lines(packed.Bytes())} {
		got, err := decoded(blob(format, text) + `<message device="Cam" message="after"/>`)
		if err != io.EOF || len(got) != 3 || len(got[1].blobs) != 1 {
			t.Fatalf("%s: %d messages, then %v", format, len(got), err)
		}
		if b := got[1].blobs[0]; b.Format != ".fits" || !bytes.Equal(b.Data, data) {
			t.Errorf("%s: %d bytes as %s, want %d", format, len(b.Data), b.Format, len(data))
		}
		if got[2].text != "after" {
			t.Errorf("%s: the message after it reads %q", format, got[2].text)
		}
	}
}

// What a broken or hostile server sends ends the connection, in words.
func TestBadServers(t *testing.T) {
	for name, text := range map[string]string{
		"silent":        "",
		"cut":           blob(".fits", "AAAA")[:200],
		"no base64":     blob(".fits", "????"),
		"no zlib":       blob(".fits.z", "AAAA"),
		"endless text":  `<defTextVector device="` + strings.Repeat("x", 2<<20),
		"many":          strings.Repeat(`<defTextVector device="d" name="n"/>`, 3) + manyProperties(),
		"tag in a blob": strings.Replace(blob(".fits", "AAAA"), "AAAA", "AA<x/>AA", 1),
		"nested":        `<defTextVector device="d" name="n"><defText name="e"><defText/></defText></defTextVector>`,
	} {
		if _, err := said(t, text); !errors.Is(err, ErrGone) || !strings.Contains(err.Error(), "; ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func manyProperties() string {
	var b strings.Builder
	for i := range maxKept + 1 {
		fmt.Fprintf(&b, `<defTextVector device="d" name="%d"/>`, i)
	}
	return b.String()
}

// BLOBs that nobody asked for are not kept.
func TestUnwantedBLOB(t *testing.T) {
	c, _ := said(t, strings.ReplaceAll(blob(".fits", "AAAA"), "Cam", "Other"))
	if b, ok := c.TakeBLOB("Other", "CCD1"); ok {
		t.Errorf("kept %d bytes", len(b.Data))
	}
}

func TestProperties(t *testing.T) {
	c, _ := said(t, `
<defNumberVector device="M" name="COORD" state="Idle"><defNumber name="RA" min="0" max="24">1:30:00</defNumber><defNumber name="DEC">-10 30</defNumber></defNumberVector>
<setNumberVector device="M" name="COORD" state="Ok" message="moved"><oneNumber name="RA">2.5</oneNumber></setNumberVector>
<defSwitchVector device="M" name="GONE" state="Idle"><defSwitch name="A">On</defSwitch></defSwitchVector>
<delProperty device="M" name="GONE"/>
<setTextVector device="M" name="NEVER_DEFINED"><oneText name="x">y</oneText></setTextVector>`)
	p, ok := c.Get("M", "COORD")
	if !ok || p.State != Ok || p.Elements["RA"] != (Element{Text: "2.5", Number: 2.5, Max: 24}) || p.Elements["DEC"].Number != -10.5 {
		t.Errorf("got %+v", p)
	}
	for _, name := range []string{"GONE", "NEVER_DEFINED"} {
		if _, ok := c.Get("M", name); ok {
			t.Errorf("%s is there", name)
		}
	}
	if c.Message("M") != "moved" {
		t.Errorf("message %q", c.Message("M"))
	}
}

// Worked by hand after the protocol's number formats (white paper, section 4).
func TestNumbers(t *testing.T) {
	for text, want := range map[string]float64{
		" 12.5\n": 12.5, "-0:30": -0.5, "12:30:36": 12.51, "-1 15 0": -1.25, "1e3": 1000, "": math.NaN(), "x": math.NaN(),
		"1:2:3:4": math.NaN(), "1:-2": math.NaN(), "Inf": math.NaN(),
	} {
		if got := parseNumber(text); math.Abs(got-want) > 1e-12 || math.IsNaN(got) != math.IsNaN(want) {
			t.Errorf("%q is %g, want %g", text, got, want)
		}
	}
}

// Names with quotes stay names.
func TestEscaping(t *testing.T) {
	if got := escape(`a"<b>&'c`); strings.ContainsAny(got, `"<>'`) {
		t.Errorf("escaped to %s", got)
	}
}

func BenchmarkBLOB(b *testing.B) {
	text := blob(".fits", base64.StdEncoding.EncodeToString(make([]byte, 1280*1024*2)))
	b.SetBytes(1280 * 1024 * 2)
	for b.Loop() {
		if got, err := decoded(text); err != io.EOF || len(got) != 2 {
			b.Fatal(err)
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(blob(".fits", "AAAA") + defined)
	f.Add(`<setNumberVector device="M" name="C"><oneNumber name="RA">2:5</oneNumber></setNumberVector>`)
	for _, mode := range inditest.Hostile() {
		if len(mode.Start)+len(mode.Again) < 1<<17 {
			f.Add(mode.Start + mode.Again)
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		c := &Client{props: map[[2]string]*Property{}, blobs: map[[2]string]BLOB{}, messages: map[string]string{}, expected: map[[2]string]int{{"Cam", "CCD1"}: 1 << 20}}
		var got []message
		var err error
		visiontest.Bounded(t, func() { got, err = decoded(text) })
		if err == nil {
			t.Fatal("no end")
		}
		for _, m := range got {
			if c.take(m) != nil {
				return
			}
		}
	})
}
