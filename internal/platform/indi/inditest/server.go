// Package inditest runs the real INDI server with the simulated devices of
// Debian's indi-bin, as a peer for tests.
package inditest

import (
	"bufio"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// FreePort returns a TCP port on the loopback that nobody uses.
func FreePort(t testing.TB) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	return port
}

// Server runs the server on the port with the drivers and returns its address
// when it listens. Stop ends it at once; so does the end of the test.
func Server(t testing.TB, port string, drivers ...string) (address string, stop func()) {
	t.Helper()
	dir := t.TempDir()
	cmd := exec.Command("indiserver", append([]string{"-u", filepath.Join(dir, "s"), "-p", port}, drivers...)...)
	cmd.Env = append(os.Environ(), "HOME="+dir) // settings of earlier runs must not matter
	cmd.Dir = dir
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatalf("%v: install indi-bin", err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for lines := bufio.NewScanner(log); lines.Scan(); {
			if strings.Contains(lines.Text(), "bind:") {
				t.Log(lines.Text())
			}
		}
	}()
	stop = sync.OnceFunc(func() {
		_ = cmd.Process.Kill() // it may have ended
		<-done
		_ = cmd.Wait() // "killed"
	})
	t.Cleanup(stop)
	address = net.JoinHostPort("127.0.0.1", port)
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		conn, err := net.Dial("tcp", address)
		if err == nil {
			conn.Close()
			return address, stop
		}
		if time.Now().After(end) {
			t.Fatal(err)
		}
	}
}
