package session

import (
	"context"
	"encoding/binary"
	"fmt"
	"testing"

	"halocue/internal/platform/indi/inditest"
	"halocue/internal/record"
	"halocue/internal/simulate/telescope"
	"halocue/internal/simulate/virtual"
)

// fits is the next frame as 16-bit FITS, with a header that tells a place and a person.
func fits(ctx context.Context, src *telescope.Source) ([]byte, error) {
	f, err := src.Next(ctx)
	if err != nil {
		return nil, err
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
	return data, nil
}

// A night whose frames came from an INDI server is kept cut to the ring, without what the
// server's headers say, and replayed to the same claim.
func TestProveNightThroughINDI(t *testing.T) {
	src := telescope.NewSource(telescope.Demo(3), virtual.Options(virtual.FPS, true))
	folder := recordNight(t, "indi://"+inditest.Camera(t, func() ([]byte, error) { return fits(t.Context(), src) })+"/Cam", src, nil)
	a := again(t, folder)
	if a.Then.Result == "" || a.Now.Result != a.Then.Result || a.Measured < a.Then.Frames*9/10 || a.Night.Settings["camera"]["source"] != "indi" {
		t.Errorf("%q became %q, %d measured of %d, %q, camera %v", a.Then.Result, a.Now.Result, a.Measured, a.Then.Frames, a.Remarks, a.Night.Settings["camera"]["source"])
	}
	t.Logf("%d frames in %.0f s, %d kB a frame, %d dropped, parting at %d of %d", a.Night.Frames, a.Then.Ended, a.Night.Bytes/int64(a.Night.Frames)/1000, a.Night.Dropped, record.FirstDifference(a.Then, a.Now), len(a.Then.Said))
}
