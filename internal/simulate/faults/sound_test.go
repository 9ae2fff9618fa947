//go:build !race

// The binding of PortAudio hands a number on as a pointer, which the race detector's
// compiler refuses; audio/device is free of races by its own tests.

package faults

import (
	"context"
	"encoding/binary"
	"io"
	"os"
	"testing"
	"time"

	"halocue/audio/device"
	"halocue/audio/device/devicetest"
	"halocue/internal/run"
	"halocue/internal/simulate/telescope"
	"halocue/prompts/voice"
)

// A real sound server is killed in the middle of a night and started again: the
// night goes on, and what is heard first is that the sound is back.
func TestSoundServerKilledAndStartedAgain(t *testing.T) {
	dir, err := os.MkdirTemp("", "pulse") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	server, err := devicetest.Start(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { server.Kill() }()

	var out lines
	n := sky(5)
	p := parts(t, n, &out)
	events := make(chan run.DeviceEvent, 64)
	p.Devices = events
	speaks, err := voice.Espeak("en", 160)
	if err != nil {
		t.Fatal(err)
	}
	speaks.Timeout = time.Minute // of a busy machine
	p.Speech = voice.NewSpeaker(speaks)
	card, err := device.Open(device.Config{Mixer: p.Mixer, Events: func(e device.Event) {
		if e.Kind == device.Lost || e.Kind == device.Back {
			events <- run.DeviceEvent{Device: "sound", State: string(e.Kind), Code: "sound-lost", On: e.Kind == device.Lost}
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	p.Sink = card
	src := telescope.NewSource(n, telescope.SourceOptions{FPS: fps, Wall: true, Closed: io.EOF})
	p.Source, p.Hands = src, src.Hear
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() {
		_, err := run.Live(ctx, p)
		done <- err
	}()
	out.until(t, "other-side", 1)
	if !heard(t, server) {
		t.Error("nothing was heard before")
	}
	server.Kill()
	time.Sleep(3 * time.Second)
	if err := server.Restart(); err != nil {
		t.Fatal(err)
	}
	t.Logf("sound back: said after %v", out.until(t, "sound-back", 1))
	if !heard(t, server) {
		t.Error("nothing was heard after it")
	}
	stop()
	if err := <-done; err != nil {
		t.Error(err)
	}
	if err := card.Close(); err != nil {
		t.Error(err)
	}
}

// heard reports whether something sounds within ten seconds.
func heard(t *testing.T, s *devicetest.Server) bool {
	t.Helper()
	ear, err := s.Listen()
	if err != nil {
		t.Fatal(err)
	}
	defer ear.Close()
	for range 10 * 100 {
		var samples [2 * 480]int16 // 10 ms
		if err := binary.Read(ear, binary.LittleEndian, samples[:]); err != nil {
			t.Fatal(err)
		}
		for _, s := range samples {
			if s > 300 { // 1 % of the loudest
				return true
			}
		}
	}
	return false
}
