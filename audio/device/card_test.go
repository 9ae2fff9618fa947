package device

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"halocue/audio"
	"halocue/audio/device/devicetest"
)

var server *devicetest.Server

func TestMain(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	if os.Getenv(bareMachine) != "" {
		return m.Run()
	}
	dir, err := os.MkdirTemp("", "card")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	if server, err = devicetest.Start(dir); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer server.Kill()
	return m.Run()
}

// log collects a card's events.
type log struct {
	mu   sync.Mutex
	all  []Event
	when []time.Time
}

func (l *log) add(e Event) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all, l.when = append(l.all, e), append(l.when, time.Now())
}

// patience is many times what a quiet machine takes (it notices in 0.6 s).
const patience = 20 * time.Second

// wait returns the time of the first event of a kind, waiting for it.
func (l *log) wait(t *testing.T, k Kind, within time.Duration) time.Time {
	t.Helper()
	for end := time.Now().Add(within); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		l.mu.Lock()
		for i, e := range l.all {
			if e.Kind == k {
				defer l.mu.Unlock()
				return l.when[i]
			}
		}
		l.mu.Unlock()
	}
	t.Fatalf("no event %q within %v: %v", k, within, l.all)
	return time.Time{}
}

func open(t *testing.T, cfg Config) (*Card, *log) {
	t.Helper()
	l := &log{}
	cfg.Events = l.add
	if cfg.Mixer == nil {
		cfg.Mixer = audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Wave: audio.Sine}})
	}
	c, err := Open(cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c, l
}

// record returns what is heard in so many seconds.
func record(t *testing.T, seconds float64) []float64 {
	t.Helper()
	path := filepath.Join(t.TempDir(), "heard.wav")
	stop, err := server.Record(path)
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(time.Duration(seconds * float64(time.Second)))
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	return mustReadWAV(t, path)
}

// hasTone says whether the tone of a mixer is in a recording.
func hasTone(d *audio.Mixer, heard []float64) bool {
	hz := d.Mapping().Hz(d.Tone())
	return level(heard, hz) > level(heard, hz*1.19)+20
}

func TestCardPlaysTheMixer(t *testing.T) {
	d := audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Wave: audio.Sine}})
	d.SetTone(audio.Tone{State: audio.Trim, Error: 2})
	c, _ := open(t, Config{Mixer: d})
	var heard []float64
	ratio := 0.0
	for range 10 { // one calm second is enough: at a wrong rate there is none
		before, began := d.Time(), time.Now()
		heard = record(t, 1)
		if ratio = (d.Time() - before) / time.Since(began).Seconds(); math.Abs(ratio-1) <= 0.1 {
			break
		}
	}
	if math.Abs(ratio-1) > 0.1 {
		t.Errorf("the mixer ran at %.2f of the wall clock", ratio)
	}
	if !hasTone(d, heard) {
		t.Error("the tone is not in the recording")
	}
	if lat := c.Delay(); lat < 0.03 || lat > 0.1 {
		t.Errorf("delay %v s, want about 0.06", lat)
	}
}

func TestDeviceThatDiesComesBack(t *testing.T) {
	d := audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Wave: audio.Sine}})
	d.SetTone(audio.Tone{State: audio.Trim, Error: 2})
	_, l := open(t, Config{Mixer: d})
	time.Sleep(200 * time.Millisecond)

	died := time.Now()
	server.Kill()
	noticed := l.wait(t, Lost, patience).Sub(died)
	silent, since := d.Time(), time.Now()
	time.Sleep(2 * time.Second)
	if gone := (d.Time() - silent) / time.Since(since).Seconds(); math.Abs(gone-1) > 0.3 {
		t.Errorf("without a device the mixer moved on at %.2f of the wall clock", gone)
	}
	if err := server.Restart(); err != nil {
		t.Fatal(err)
	}
	up := time.Now()
	back := l.wait(t, Back, patience).Sub(up)
	t.Logf("noticed after %v, back %v after the server", noticed.Round(time.Millisecond), back.Round(time.Millisecond))
	toneIsBack(t, d)
}

// toneIsBack waits until the tone is heard, on a busy machine without a gap in it.
func toneIsBack(t *testing.T, d *audio.Mixer) {
	t.Helper()
	for end := time.Now().Add(patience); !hasTone(d, record(t, 0.5)); {
		if time.Now().After(end) {
			t.Fatal("no tone after the device came back")
		}
	}
}

func TestSuspendedDeviceComesBack(t *testing.T) {
	d := audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Wave: audio.Sine}})
	d.SetTone(audio.Tone{State: audio.Trim, Error: 2})
	_, l := open(t, Config{Mixer: d})
	time.Sleep(200 * time.Millisecond)
	if err := server.Suspend(true); err != nil {
		t.Fatal(err)
	}
	l.wait(t, Lost, patience)
	if err := server.Suspend(false); err != nil {
		t.Fatal(err)
	}
	l.wait(t, Back, patience)
	toneIsBack(t, d)
}

func TestFrozenServerBlocksNobody(t *testing.T) {
	d := audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Wave: audio.Sine}})
	d.SetTone(audio.Tone{State: audio.Trim, Error: 2})
	_, l := open(t, Config{Mixer: d})
	time.Sleep(200 * time.Millisecond)
	if err := server.Freeze(); err != nil {
		t.Fatal(err)
	}
	l.wait(t, Lost, patience)
	l.wait(t, Hung, patience)
	if err := server.Thaw(); err != nil {
		t.Fatal(err)
	}
	l.wait(t, Back, patience)
	toneIsBack(t, d)
}

// Closing in the middle of a loud tone makes no click: the recording's second
// difference stays that of the tone.
func TestCloseFades(t *testing.T) {
	d := audio.NewMixer(audio.Settings{Mapping: audio.Mapping{Mode: audio.PulseOnly, Wave: audio.Sine}})
	d.SetTone(audio.Tone{State: audio.Stop})
	c, _ := open(t, Config{Mixer: d})
	path := filepath.Join(t.TempDir(), "heard.wav")
	stop, err := server.Record(path)
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(500 * time.Millisecond)
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(200 * time.Millisecond)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	heard := mustReadWAV(t, path)
	before, after := 0.0, 0.0
	for i := 2; i < len(heard); i++ {
		s := math.Abs(heard[i] - 2*heard[i-1] + heard[i-2])
		if i < 48000/4 {
			before = math.Max(before, s)
		} else {
			after = math.Max(after, s)
		}
	}
	if before == 0 || heard[len(heard)-1] != 0 {
		t.Fatal("the tone was not heard, or did not end")
	}
	if after > 1.5*before {
		t.Errorf("second difference %.5f, of the tone %.5f: a click", after, before)
	}
}
