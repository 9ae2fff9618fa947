package session

import (
	"bufio"
	"context"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"io"
	"net"
	"strings"
	"testing"

	"halocue/internal/record"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
)

// overINDI serves the simulated telescope as a camera on an INDI server: an exposure
// is the next frame, as 16-bit FITS.
func overINDI(t *testing.T, src *telescope.Source) (address string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		conn, err := l.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		for in := bufio.NewReader(conn); err == nil; {
			var element string
			element, err = in.ReadString('>')
			switch {
			case strings.Contains(element, "<getProperties"):
				_, err = io.WriteString(conn, `<defSwitchVector device="Cam" name="CONNECTION" state="Ok" perm="rw" rule="OneOfMany"><defSwitch name="CONNECT">On</defSwitch><defSwitch name="DISCONNECT">Off</defSwitch></defSwitchVector>`+
					`<defNumberVector device="Cam" name="CCD_EXPOSURE" state="Idle" perm="rw"><defNumber name="CCD_EXPOSURE_VALUE" format="%g" min="0.001" max="10" step="0">0.02</defNumber></defNumberVector>`+
					`<defBLOBVector device="Cam" name="CCD1" state="Idle" perm="ro"><defBLOB name="CCD1"/></defBLOBVector>`)
			case strings.Contains(element, "<newNumberVector") && strings.Contains(element, "CCD_EXPOSURE"):
				err = sendFITS(t.Context(), conn, src)
			}
		}
	}()
	return "indi://" + l.Addr().String() + "/Cam"
}

func sendFITS(ctx context.Context, w io.Writer, src *telescope.Source) error {
	f, err := src.Next(ctx)
	if err != nil {
		return err
	}
	head := ""
	for _, card := range []string{"SIMPLE  =                    T", "BITPIX  =                   16", "NAXIS   =                    2", fmt.Sprintf("NAXIS1  = %20d", f.Width),
		fmt.Sprintf("NAXIS2  = %20d", f.Height), "BZERO   =                32768", "SITELAT = '51.4779'", "OBSERVER= 'Peter'", "END"} {
		head += fmt.Sprintf("%-80s", card)
	}
	data := []byte(fmt.Sprintf("%-2880s", head))
	for _, v := range f.Pix {
		data = binary.BigEndian.AppendUint16(data, uint16(int(v)*65535/int(f.White)-32768))
	}
	data = append(data, make([]byte, 2880-len(data)%2880)...)
	_, err = fmt.Fprintf(w, `<setBLOBVector device="Cam" name="CCD1" state="Ok"><oneBLOB name="CCD1" size="%d" format=".fits">%s</oneBLOB></setBLOBVector>`, len(data), base64.StdEncoding.EncodeToString(data))
	return err
}

// A night whose frames came from an INDI server is kept cut to the ring, without what the
// server's headers say, and replayed to the same claim.
func TestProveNightThroughINDI(t *testing.T) {
	src := telescope.NewSource(telescope.Demo(3), virtual.Options(virtual.FPS, true))
	folder := recordNight(t, overINDI(t, src), src, nil)
	a := again(t, folder)
	if a.Then.Result == "" || a.Now.Result != a.Then.Result || a.Measured < a.Then.Frames*9/10 || a.Night.Settings["camera"]["source"] != "indi" {
		t.Errorf("%q became %q, %d measured of %d, %q, camera %v", a.Then.Result, a.Now.Result, a.Measured, a.Then.Frames, a.Remarks, a.Night.Settings["camera"]["source"])
	}
	t.Logf("%d frames in %.0f s, %d kB a frame, %d dropped, parting at %d of %d", a.Night.Frames, a.Then.Ended, a.Night.Bytes/int64(a.Night.Frames)/1000, a.Night.Dropped, record.Parting(a.Then, a.Now), len(a.Then.Said))
}
