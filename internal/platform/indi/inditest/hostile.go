package inditest

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"fmt"
	"io"
	"net"
	"strings"
	"sync"
	"testing"
	"time"
)

// ours is the camera that a hostile server says it has.
const ours = "Cam"

// driver is what a server says of a device with the interface bits.
func driver(name string, bits int, connected string) string {
	return fmt.Sprintf(`<defTextVector device="%s" name="DRIVER_INFO" state="Ok"><defText name="DRIVER_INTERFACE">%d</defText></defTextVector>`+
		`<defSwitchVector device="%s" name="CONNECTION" state="Ok"><defSwitch name="CONNECT">%s</defSwitch></defSwitchVector>`, name, bits, name, connected)
}

// camera is that, and what an exposure needs.
func camera(name string) string {
	return driver(name, 2, "On") +
		fmt.Sprintf(`<defNumberVector device="%s" name="CCD_EXPOSURE" state="Idle"><defNumber name="CCD_EXPOSURE_VALUE" min="0.001" max="10" step="0">0.1</defNumber></defNumberVector>`+
			`<defBLOBVector device="%s" name="CCD1" state="Idle"><defBLOB name="CCD1"/></defBLOBVector>`, name, name)
}

func picture(device, format string, size int, data string) string {
	return fmt.Sprintf(`<setBLOBVector device="%s" name="CCD1" state="Ok"><oneBLOB name="CCD1" format="%s" size="%d">%s</oneBLOB></setBLOBVector>`, device, format, size, data)
}

func inflated(mb int) string {
	var b bytes.Buffer
	z := zlib.NewWriter(&b)
	for range mb {
		z.Write(make([]byte, 1<<20))
	}
	z.Close()
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

// Mode is what a hostile server does: it writes a start, and then again and again, pausing
// between.
type Mode struct {
	Start, Again string
	Pause        time.Duration
	Exposures    bool // Again answers each exposure, and nothing else
}

// Hostile are the servers by name. They are made when they are asked for: packing pictures
// takes long, above all under the race detector, and each decoder that a test starts in a
// process of its own begins by making the variables of all packages.
var Hostile = sync.OnceValue(func() map[string]Mode {
	zeros := base64.StdEncoding.EncodeToString(make([]byte, 3<<20)) // of a picture
	return map[string]Mode{
		"a name without end":           {Start: `<defTextVector device="`, Again: strings.Repeat("A", 1<<16)},
		"a text without end":           {Start: `<defTextVector device="x" name="y"><defText name="z">`, Again: strings.Repeat("A", 1<<16)},
		"a remark without end":         {Start: `<!--`, Again: strings.Repeat("A", 1<<16)},
		"nested without end":           {Again: strings.Repeat("<a>", 20000)},
		"entities":                     {Start: `<!DOCTYPE l [<!ENTITY a "lol"><!ENTITY b "&a;&a;&a;&a;">]><defTextVector device="&b;" name="&b;"/>` + camera(ours)},
		"long texts":                   {Again: `<defTextVector device="D" name="P"><defText name="t">` + strings.Repeat("B", 1_000_000) + `</defText></defTextVector>`},
		"properties without end":       {Start: manyProperties(30_000)},
		"sizes that are only said":     {Start: camera(ours) + `<setBLOBVector device="Other" name="CCD1">`, Again: strings.Repeat(`<oneBLOB name="a" format=".fits" size="67108864"></oneBLOB>`, 100)},
		"another's pictures":           {Start: camera(ours), Again: picture("Other", ".fits", 10, zeros)},
		"pictures nobody asked for":    {Start: camera(ours), Again: picture(ours, ".fits", 10, zeros)},
		"inflated pictures":            {Start: camera(ours), Again: picture(ours, ".fits.z", 100, inflated(300)), Exposures: true},
		"a picture without end":        {Start: camera(ours) + `<setBLOBVector device="Cam" name="CCD1" state="Ok"><oneBLOB name="CCD1" format=".fits" size="4294967296">`, Again: zeros},
		"no base64":                    {Start: camera(ours), Again: picture(ours, ".fits", 1000, strings.Repeat("!!@@##garbage%%", 100)), Exposures: true},
		"another format":               {Start: camera(ours), Again: picture(ours, ".exe", 1000, base64.StdEncoding.EncodeToString([]byte("MZ, no picture"))), Exposures: true},
		"999 axes":                     {Start: camera(ours), Again: picture(ours, ".fits", 9, base64.StdEncoding.EncodeToString(axes(999))), Exposures: true},
		"names that steer":             {Start: driver("Cam\u009b31m\u202e&#10;halocue: all fine", 2, "On") + driver("Two\u009b]0;title", 2, "On")},
		"a remark that steers":         {Start: driver(ours, 2, "Off") + `<setSwitchVector device="Cam" name="CONNECTION" state="Alert" message="bad\u009b31m` + "\u009b\u202e" + `&#10;halocue: fake"><oneSwitch name="CONNECT">Off</oneSwitch></setSwitchVector>`},
		"alerts":                       {Start: camera(ours), Again: `<setNumberVector device="Cam" name="CCD_EXPOSURE" state="Alert" message="exp` + "\u009b\u202e" + `"><oneNumber name="CCD_EXPOSURE_VALUE">0</oneNumber></setNumberVector>`, Pause: 5 * time.Millisecond},
		"no numbers":                   {Start: driver(ours, 2, "On") + `<defNumberVector device="Cam" name="CCD_EXPOSURE"><defNumber name="CCD_EXPOSURE_VALUE" min="NaN" max="-5" step="x">1e999</defNumber></defNumberVector><defBLOBVector device="Cam" name="CCD1"/>`},
		"nothing":                      {},
		"an end":                       {Start: camera(ours)[:200], Again: ""},
		"a camera that comes and goes": {Start: camera(ours), Again: `<delProperty device="Cam"/>` + camera(ours)},
	}
})

func manyProperties(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `<defTextVector device="D%d" name="P%d"><defText name="t">x</defText></defTextVector>`, i%50, i)
	}
	return b.String()
}

// axes is a FITS header with n axes of one pixel.
func axes(n int) []byte {
	cards := []string{"SIMPLE  = T", "BITPIX  = 8", fmt.Sprint("NAXIS   = ", n)}
	for i := range n {
		cards = append(cards, fmt.Sprintf("%-8s= 1", fmt.Sprint("NAXIS", i+1)))
	}
	var b bytes.Buffer
	for _, c := range append(cards, "END") {
		fmt.Fprintf(&b, "%-80s", c)
	}
	return append(b.Bytes(), bytes.Repeat([]byte(" "), (2880-b.Len()%2880)%2880+2880)...)
}

// HostileServer runs one of Hostile on the loopback until the test ends, and returns its
// address.
func HostileServer(t testing.TB, name string) string {
	t.Helper()
	mode, ok := Hostile()[name]
	if !ok {
		t.Fatalf("there is no hostile server %q", name)
	}
	return peer(t, func(conn net.Conn) {
		asked := exposures(conn)
		_, err := io.WriteString(conn, mode.Start)
		for ok := true; err == nil && ok && name != "an end"; {
			if mode.Exposures || mode.Again == "" {
				_, ok = <-asked
			}
			if ok {
				_, err = io.WriteString(conn, mode.Again)
			}
			time.Sleep(mode.Pause)
		}
	})
}

// Camera serves a camera, "Cam", on the loopback until the test ends, and returns its
// address. An exposure is the next FITS file.
func Camera(t testing.TB, next func() (fits []byte, err error)) (address string) {
	t.Helper()
	return peer(t, func(conn net.Conn) {
		asked := exposures(conn)
		_, err := io.WriteString(conn, camera(ours))
		for err == nil && <-asked {
			var fits []byte
			if fits, err = next(); err == nil {
				_, err = io.WriteString(conn, picture(ours, ".fits", len(fits), base64.StdEncoding.EncodeToString(fits)))
			}
		}
	})
}

// exposures has a value for each exposure that is asked for, and is closed when the client
// is gone.
func exposures(conn net.Conn) <-chan bool {
	asked := make(chan bool, 100)
	go func() {
		defer close(asked)
		buf := make([]byte, 1<<16)
		for {
			n, err := conn.Read(buf)
			if err != nil {
				return
			}
			if bytes.Contains(buf[:n], []byte("CCD_EXPOSURE_VALUE")) {
				select {
				case asked <- true:
				default:
				}
			}
		}
	}()
	return asked
}

// peer listens on the loopback until the test ends; whoever connects is served, and hung
// up on then.
func peer(t testing.TB, serve func(net.Conn)) (address string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			stop := make(chan struct{})
			go func() {
				defer conn.Close()
				defer close(stop)
				serve(conn)
			}()
			go func() {
				select {
				case <-stop:
				case <-t.Context().Done():
					conn.Close()
				}
			}()
		}
	}()
	return l.Addr().String()
}
