package confine

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

// become names the process that sets its limits and becomes another program.
const become = prefix + "become"

// mostData bounds the memory of such a program, bytes: what it may write and shares with no
// other.
const mostData = 320 << 20

// Command returns a command for a program that decodes data from strangers but needs
// devices and the network. Its memory is bounded, and it gains no rights. Where the kernel
// has Landlock, it can write only to devices and below the folder keeps, and can signal no
// other process.
func Command(program, keeps string, args ...string) *exec.Cmd {
	return &exec.Cmd{Path: "/proc/self/exe", Args: append([]string{become, keeps, program}, args...)}
}

func init() {
	if os.Args[0] != become {
		return
	}
	runtime.LockOSThread() // what is limited is the thread that becomes the program
	err := errors.Join(limit(unix.RLIMIT_DATA, mostData), limit(unix.RLIMIT_CORE, 0), unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0))
	if err == nil {
		keepFrom("/dev", os.Args[1])
		err = syscall.Exec(os.Args[2], os.Args[2:], os.Environ())
	}
	fmt.Fprintln(os.Stderr, "ERROR:", err)
	os.Exit(notLimited)
}

// keepFrom takes from this thread the right to write anywhere but below the folders.
// Without Landlock in the kernel it does nothing.
func keepFrom(folders ...string) {
	version, _, _ := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, 0, 0, unix.LANDLOCK_CREATE_RULESET_VERSION)
	rules := unix.LandlockRulesetAttr{Access_fs: unix.LANDLOCK_ACCESS_FS_WRITE_FILE | unix.LANDLOCK_ACCESS_FS_REMOVE_DIR | unix.LANDLOCK_ACCESS_FS_REMOVE_FILE |
		unix.LANDLOCK_ACCESS_FS_MAKE_CHAR | unix.LANDLOCK_ACCESS_FS_MAKE_DIR | unix.LANDLOCK_ACCESS_FS_MAKE_REG | unix.LANDLOCK_ACCESS_FS_MAKE_SOCK |
		unix.LANDLOCK_ACCESS_FS_MAKE_FIFO | unix.LANDLOCK_ACCESS_FS_MAKE_BLOCK | unix.LANDLOCK_ACCESS_FS_MAKE_SYM}
	if int(version) >= 3 {
		rules.Access_fs |= unix.LANDLOCK_ACCESS_FS_TRUNCATE
	}
	if int(version) >= 6 {
		rules.Scoped = unix.LANDLOCK_SCOPE_SIGNAL
	}
	set, _, errno := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, uintptr(unsafe.Pointer(&rules)), unsafe.Sizeof(rules), 0)
	if errno != 0 {
		return
	}
	for _, folder := range folders {
		fd, err := unix.Open(filepath.Clean(folder), unix.O_PATH|unix.O_CLOEXEC, 0)
		if err != nil { // not there: nothing is written to it
			continue
		}
		below := unix.LandlockPathBeneathAttr{Allowed_access: rules.Access_fs, Parent_fd: int32(fd)}
		_, _, _ = unix.Syscall6(unix.SYS_LANDLOCK_ADD_RULE, set, unix.LANDLOCK_RULE_PATH_BENEATH, uintptr(unsafe.Pointer(&below)), 0, 0, 0)
	}
	_, _, _ = unix.Syscall(unix.SYS_LANDLOCK_RESTRICT_SELF, set, 0, 0)
}
