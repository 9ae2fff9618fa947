package device

/*
#cgo LDFLAGS: -lasound
#include <alsa/asoundlib.h>
static void ignore(const char *file, int line, const char *function, int err, const char *fmt, ...) {}
static void ignore_alsa_errors(void) { snd_lib_error_set_handler(ignore); }
*/
import "C"

import (
	"os"
	"runtime/debug"
	"sync"
	"syscall"
)

var ignoreALSA = sync.OnceFunc(func() { C.ignore_alsa_errors() })

// quietly runs f and discards what C libraries print on stderr: looking for devices on a
// machine without a card prints a hundred lines. Where stderr cannot be redirected f runs
// all the same.
func quietly(f func()) {
	ignoreALSA()
	const stderr = 2
	null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		f()
		return
	}
	defer null.Close()
	keep, err := syscall.Dup(stderr)
	if err != nil {
		f()
		return
	}
	syscall.CloseOnExec(keep)
	// A crash in f must still be seen.
	saved := os.NewFile(uintptr(keep), "stderr")
	defer saved.Close()
	if debug.SetCrashOutput(saved, debug.CrashOptions{}) == nil {
		defer debug.SetCrashOutput(nil, debug.CrashOptions{})
	}
	if syscall.Dup3(int(null.Fd()), stderr, 0) != nil {
		f()
		return
	}
	defer syscall.Dup3(keep, stderr, 0)
	f()
}
