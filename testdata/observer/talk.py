"""The conversation with guide: frames in, transcript lines out, in step.

One thread, no deadlock: stdin and stdout are both watched. The pipe to guide is made as small as the system allows, so
guide can be only a few frames behind; hands act a second or more after a say, so its event is always here in time.
"""
import errno
import fcntl
import json
import os
import selectors
import signal
import subprocess
import tempfile
import time


class Hung(Exception):
    pass


class Guide:
    def __init__(self, argv, config, patience=90.0):
        self.dir = tempfile.TemporaryDirectory(prefix="observer-")
        path = os.path.join(self.dir.name, "halocue.toml")
        with open(path, "w") as f:
            f.write(config)
        self.err = open(os.path.join(self.dir.name, "stderr"), "w+b")
        self.argv = argv[:1] + ["guide", "--config", path] + argv[1:]
        env = {k: v for k, v in os.environ.items() if not k.startswith("HALOCUE_")}
        self.p = subprocess.Popen(self.argv, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self.err, bufsize=0,
                                  cwd=self.dir.name, env=env)
        fcntl.fcntl(self.p.stdin, getattr(fcntl, "F_SETPIPE_SZ", 1031), 4096)
        for s in (self.p.stdin, self.p.stdout):
            os.set_blocking(s.fileno(), False)
        self.sel = selectors.DefaultSelector()
        self.sel.register(self.p.stdout, selectors.EVENT_READ)
        self.sel.register(self.p.stdin, selectors.EVENT_WRITE)
        self.rest, self.lines, self.open, self.ended, self.patience = b"", [], True, False, patience

    def drain(self):
        """Whatever stdout holds now."""
        while not self.ended:
            try:
                got = os.read(self.p.stdout.fileno(), 65536)
            except BlockingIOError:
                return
            if not got:
                self.ended = True
                self.sel.unregister(self.p.stdout)
                return
            *whole, self.rest = (self.rest + got).split(b"\n")
            self.lines += whole

    def feed(self, frame):
        """Writes one frame; False when guide reads no more."""
        view, since = memoryview(frame), time.monotonic()
        while view and self.open and not self.ended:
            for key, _ in self.sel.select(1.0):
                if key.fileobj is self.p.stdout:
                    self.drain()
                    continue
                try:
                    view = view[os.write(self.p.stdin.fileno(), view):]
                    since = time.monotonic()
                except BlockingIOError:
                    pass
                except OSError as e:
                    if e.errno != errno.EPIPE:
                        raise
                    self.hang_up()
                    break
            if time.monotonic() - since > self.patience:
                raise Hung("guide read nothing for %.0f s" % self.patience)
        self.drain()
        return self.open and not self.ended

    def events(self):
        """Parsed lines so far; a line that is not a JSON object is given as text."""
        out, self.lines = [], self.lines
        for line in self.lines:
            try:
                e = json.loads(line)
                out.append(e if isinstance(e, dict) else repr(line))
            except ValueError:
                out.append(repr(line[:200]))
        self.lines = []
        return out

    def hang_up(self):
        if self.open:
            self.open = False
            self.sel.unregister(self.p.stdin)
            self.p.stdin.close()

    def finish(self):
        """End of the stream: the last events, the exit status, what stderr said."""
        self.hang_up()
        end = time.monotonic() + self.patience
        while not self.ended and time.monotonic() < end:
            self.sel.select(1.0)
            self.drain()
        try:
            status = self.p.wait(max(1.0, end - time.monotonic()))
        except subprocess.TimeoutExpired:
            self.kill()
            status = "hung"
        self.err.seek(0)
        text = self.err.read().decode(errors="replace")
        self.err.close()
        self.dir.cleanup()
        return status, text

    def kill(self):
        self.p.send_signal(signal.SIGKILL)  # our own child only
        self.p.wait()
