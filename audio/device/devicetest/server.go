// Package devicetest is a sound card for machines that have none: a private
// PulseAudio server with two null sinks. What a program plays goes into "ear" and
// can be recorded from its monitor; what is played into "mouth" is what the
// program's microphone hears.
package devicetest

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

// Server is a private sound server.
type Server struct {
	dir string
	cmd *exec.Cmd
}

// alsaConf replaces the system's ALSA settings: the default device is the server.
const alsaConf = "pcm.!default { type pulse }\nctl.!default { type pulse }\n"

// Start starts a server as Launch does, and points this process's environment to it.
// That has to happen before the first sound device is opened.
func Start(dir string) (*Server, error) {
	s, err := Launch(dir)
	if err != nil {
		return nil, err
	}
	for _, variable := range s.Env() {
		name, value, _ := strings.Cut(variable, "=")
		if err := os.Setenv(name, value); err != nil {
			s.Kill()
			return nil, fmt.Errorf("set %s: %w", name, err)
		}
	}
	return s, nil
}

// Launch starts a server with its socket in dir, which must exist and have a short
// path. Programs that are started with Env hear and speak by it.
func Launch(dir string) (*Server, error) {
	s := &Server{dir: dir}
	if err := os.Chmod(dir, 0o700); err != nil {
		return nil, fmt.Errorf("prepare the sound server's folder: %w", err)
	}
	if err := os.WriteFile(s.conf(), []byte(alsaConf), 0o600); err != nil {
		return nil, fmt.Errorf("write ALSA settings: %w", err)
	}
	return s, s.Restart()
}

func (s *Server) socket() string { return filepath.Join(s.dir, "pulse.sock") }
func (s *Server) conf() string   { return filepath.Join(s.dir, "alsa.conf") }

// Env are the variables, name=value, by which a program finds the server.
func (s *Server) Env() []string {
	return []string{"XDG_RUNTIME_DIR=" + s.dir, "PULSE_SERVER=unix:" + s.socket(), "ALSA_CONFIG_PATH=" + s.conf()}
}

// command is a program that finds the server.
func (s *Server) command(name string, args ...string) *exec.Cmd {
	cmd := exec.Command(name, args...)
	cmd.Env = append(os.Environ(), s.Env()...)
	return cmd
}

// Restart starts the server again after Kill.
func (s *Server) Restart() error {
	// Without norewinds a null sink sleeps up to two seconds and the callbacks stall.
	s.cmd = s.command("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1",
		"--use-pid-file=no", "--log-target=stderr", "--log-level=error",
		"-L", "module-native-protocol-unix socket="+s.socket()+" auth-anonymous=1",
		"-L", "module-null-sink sink_name=ear rate=48000 channels=2 norewinds=1",
		"-L", "module-null-sink sink_name=mouth rate=16000 channels=1 norewinds=1",
		"-L", "module-remap-source source_name=mic master=mouth.monitor")
	s.cmd.Env = append(s.cmd.Env, "HOME="+s.dir)
	if err := s.cmd.Start(); err != nil {
		return fmt.Errorf("start pulseaudio: %w; install the package pulseaudio", err)
	}
	for range 100 {
		if s.command("pactl", "info").Run() == nil {
			return s.defaults()
		}
		time.Sleep(50 * time.Millisecond)
	}
	s.Kill()
	return fmt.Errorf("pulseaudio did not answer within 5 s")
}

func (s *Server) defaults() error {
	for _, args := range [][]string{{"set-default-sink", "ear"}, {"set-default-source", "mic"}} {
		if out, err := s.command("pactl", args...).CombinedOutput(); err != nil {
			return fmt.Errorf("pactl %v: %w: %s", args, err, out)
		}
	}
	return nil
}

// Kill ends the server at once, as a crash would.
func (s *Server) Kill() {
	_ = s.cmd.Process.Kill()
	_ = s.cmd.Wait()
}

// Freeze stops the server without ending it: its clients hang.
func (s *Server) Freeze() error { return s.cmd.Process.Signal(syscall.SIGSTOP) }

// Thaw lets a frozen server go on.
func (s *Server) Thaw() error { return s.cmd.Process.Signal(syscall.SIGCONT) }

// Suspend suspends the output as an unplugged or sleeping device, or resumes it.
func (s *Server) Suspend(on bool) error {
	return s.command("pactl", "suspend-sink", "ear", map[bool]string{true: "1", false: "0"}[on]).Run()
}

// Record records what is played into a WAV file (48 kHz, two channels) until stop
// is called. It returns once samples arrive, so that nothing is missed.
func (s *Server) Record(path string) (stop func() error, err error) {
	cmd := s.command("parec", "-d", "ear.monitor", "--format=s16le", "--rate=48000", "--channels=2",
		"--latency-msec=10", "--file-format=wav", path)
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("start parec: %w; install the package pulseaudio-utils", err)
	}
	stop = func() error {
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			return err
		}
		return cmd.Wait()
	}
	for range 100 {
		if info, err := os.Stat(path); err == nil && info.Size() > 44 {
			return stop, nil
		}
		time.Sleep(20 * time.Millisecond)
	}
	return nil, fmt.Errorf("parec recorded nothing within 2 s: %w", stop())
}

// Listen hands out what is played as it is heard: raw 16-bit samples, 48 kHz, two
// channels. Closing it ends the recording.
func (s *Server) Listen() (io.ReadCloser, error) {
	cmd := s.command("parec", "-d", "ear.monitor", "--format=s16le", "--rate=48000", "--channels=2", "--latency-msec=5", "--raw")
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("listen to the sound server: %w", err)
	}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("start parec: %w; install the package pulseaudio-utils", err)
	}
	return &recorder{out, cmd}, nil
}

type recorder struct {
	io.Reader
	cmd *exec.Cmd
}

func (r *recorder) Close() error {
	_ = r.cmd.Process.Kill()
	_ = r.cmd.Wait() // says that it was killed
	return nil
}

// Say plays a sound file to the microphone and returns when it has been heard.
func (s *Server) Say(path string) error {
	if out, err := s.command("paplay", "-d", "mouth", path).CombinedOutput(); err != nil {
		return fmt.Errorf("paplay %s: %w: %s", path, err, out)
	}
	return nil
}
