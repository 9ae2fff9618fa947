package confine

import (
	"errors"
	"fmt"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// allowed are the system calls with which the Go runtime, the C library and a
// decoder compute, wait for each other, read what is open and write the answer.
// There is none that opens, connects, starts, signals another process or changes
// what the process may do.
var allowed = []uintptr{
	unix.SYS_READ, unix.SYS_READV, unix.SYS_PREAD64, unix.SYS_WRITE, unix.SYS_WRITEV, unix.SYS_LSEEK, unix.SYS_CLOSE,
	unix.SYS_FSTAT, unix.SYS_FCNTL, unix.SYS_DUP3, unix.SYS_PIPE2, unix.SYS_PPOLL,
	unix.SYS_EPOLL_CREATE1, unix.SYS_EPOLL_CTL, unix.SYS_EPOLL_PWAIT, unix.SYS_EVENTFD2,
	unix.SYS_BRK, unix.SYS_MUNMAP, unix.SYS_MREMAP, unix.SYS_MADVISE, unix.SYS_MINCORE, unix.SYS_MEMBARRIER,
	unix.SYS_FUTEX, unix.SYS_SET_ROBUST_LIST, unix.SYS_RSEQ, unix.SYS_SCHED_YIELD, unix.SYS_SCHED_GETAFFINITY,
	unix.SYS_RT_SIGACTION, unix.SYS_RT_SIGPROCMASK, unix.SYS_RT_SIGRETURN, unix.SYS_SIGALTSTACK, unix.SYS_RESTART_SYSCALL,
	unix.SYS_GETPID, unix.SYS_GETTID, unix.SYS_TGKILL, unix.SYS_GETRANDOM, unix.SYS_UNAME, unix.SYS_SYSINFO, unix.SYS_GETCPU,
	unix.SYS_CLOCK_GETTIME, unix.SYS_CLOCK_GETRES, unix.SYS_CLOCK_NANOSLEEP, unix.SYS_NANOSLEEP, unix.SYS_GETTIMEOFDAY, unix.SYS_GETRUSAGE,
	unix.SYS_TIMER_CREATE, unix.SYS_TIMER_SETTIME, unix.SYS_TIMER_DELETE, unix.SYS_SETITIMER,
	unix.SYS_EXIT, unix.SYS_EXIT_GROUP,
}

// opening are those for a decoder that opens its file by name: to read only.
var opening = []uintptr{unix.SYS_NEWFSTATAT, unix.SYS_STATX, unix.SYS_READLINKAT, unix.SYS_GETDENTS64, unix.SYS_FACCESSAT, unix.SYS_GETCWD, unix.SYS_FADVISE64}

// Offsets in struct seccomp_data (linux/seccomp.h), and of the low half of an
// argument: both machines are little endian.
const (
	offNumber = 0
	offArch   = 4
	offArgs   = 16
)

// program is a filter being written.
type program []unix.SockFilter

func (p *program) load(offset uint32) {
	*p = append(*p, unix.SockFilter{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: offset})
}

func (p *program) answer(a uint32) {
	*p = append(*p, unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: a})
}

// unless skips the next n instructions unless what is loaded equals k.
func (p *program) unless(k uint32, n uint8) {
	*p = append(*p, unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, K: k, Jf: n})
}

// without allows the loaded call if none of the bits are in its argument.
func (p *program) without(call uintptr, argument, bits uint32) {
	p.unless(uint32(call), 4)
	p.load(offArgs + 8*argument)
	*p = append(*p, unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JSET | unix.BPF_K, K: bits, Jf: 1})
	p.answer(denied)
	p.answer(unix.SECCOMP_RET_ALLOW)
}

const denied = unix.SECCOMP_RET_ERRNO | uint32(unix.EPERM)

func newProgram(opens bool) program {
	var p program
	p.load(offArch)
	p.unless(arch[runtime.GOARCH], 1)
	*p.jump() = unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JA, K: 1}
	p.answer(unix.SECCOMP_RET_KILL_PROCESS) // another machine's numbers mean other calls
	p.load(offNumber)
	for _, call := range allowed {
		p.unless(uint32(call), 1)
		p.answer(unix.SECCOMP_RET_ALLOW)
	}
	if opens {
		for _, call := range opening {
			p.unless(uint32(call), 1)
			p.answer(unix.SECCOMP_RET_ALLOW)
		}
		p.without(unix.SYS_OPENAT, 2, unix.O_WRONLY|unix.O_RDWR|unix.O_CREAT|unix.O_TRUNC)
	}
	// Memory, but no new code.
	p.without(unix.SYS_MMAP, 2, unix.PROT_EXEC)
	p.without(unix.SYS_MPROTECT, 2, unix.PROT_EXEC)
	// Threads, but no processes. The C library tries clone3, whose arguments a filter
	// cannot see, and then clone.
	p.unless(unix.SYS_CLONE3, 1)
	p.answer(unix.SECCOMP_RET_ERRNO | uint32(unix.ENOSYS))
	p.unless(unix.SYS_CLONE, 4)
	p.load(offArgs)
	*p.jump() = unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JSET | unix.BPF_K, K: unix.CLONE_THREAD, Jf: 1}
	p.answer(unix.SECCOMP_RET_ALLOW)
	p.answer(denied)
	p.answer(denied)
	return p
}

// jump makes room for one more instruction.
func (p *program) jump() *unix.SockFilter {
	*p = append(*p, unix.SockFilter{})
	return &(*p)[len(*p)-1]
}

var arch = map[string]uint32{"amd64": unix.AUDIT_ARCH_X86_64, "arm64": unix.AUDIT_ARCH_AARCH64}

// filter allows this process and all its threads no other calls from here on. A
// kernel without filters is no error: the limits remain.
func filter(opens bool) error {
	if arch[runtime.GOARCH] == 0 {
		return nil
	}
	p := newProgram(opens)
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	if err := unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0); err != nil {
		return fmt.Errorf("limiting a decoder: %w", err)
	}
	all := unix.SockFprog{Len: uint16(len(p)), Filter: &p[0]}
	_, _, errno := unix.Syscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, unix.SECCOMP_FILTER_FLAG_TSYNC, uintptr(unsafe.Pointer(&all)))
	runtime.KeepAlive(p)
	switch {
	case errno == 0, errors.Is(errno, unix.ENOSYS), errors.Is(errno, unix.EINVAL), errors.Is(errno, unix.EPERM):
		return nil
	}
	return fmt.Errorf("limiting a decoder: %w", errno)
}
