#!/usr/bin/python3
"""Runs whole nights against `halocue collimate` from outside and judges its claims. See README.md."""
import argparse
import json
import multiprocessing
import os
import sys
import time

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

import numpy as np  # noqa: E402

import hands  # noqa: E402
import night as nights  # noqa: E402
import talk  # noqa: E402

RESULTS = ("aligned", "as-good-as-the-air-allows", "given-up")
AFTER_DONE = 20.0  # seconds of frames that guide may take to say its last words and end


class Watch:
    """One night, from the first frame to the verdict."""

    def __init__(self, job):
        self.args, seed = job
        a = self.args
        self.n = nights.Night(seed, a.size, a.fps, a.one_side, a.hands, a.untracked, a.secondary, a.pixel_told)
        self.tube = nights.Tube(self.n)
        self.hands, self.count = hands.Hands(self.n, self.tube), hands.Count()
        self.wrong, self.story, self.past, self.done = [], [], [], None
        self.lag, self.last_t, self.tones, self.seen = 0.0, {}, [], {}

    def hear(self, e, now):
        if isinstance(e, str):
            self.wrong.append("stdout holds something that is no JSON object: " + e)
            return
        t, kind = e.get("t"), e.get("event")
        if not isinstance(t, (int, float)) or not isinstance(kind, str):
            self.wrong.append("event without t or event: %s" % json.dumps(e)[:200])
            return
        self.seen[kind] = self.seen.get(kind, 0) + 1
        if kind == "tone":
            self.tones.append(t)
            if len(self.tones) > 10 and t - self.tones[-11] < 1.0 - 1e-6:
                self.wrong.append("t=%.2f: more than 10 tones in a second" % t)
        elif t < self.last_t.get(kind == "say", 0) - 1e-9:  # words may be announced ahead of their first sample
            self.wrong.append("t=%.2f: %s after t=%.2f, time runs backwards" % (t, kind, self.last_t[kind == "say"]))
        else:
            self.last_t[kind == "say"] = t
        self.lag = max(self.lag, now - t)
        if kind in ("say", "decide", "stage", "device") or (kind == "measure" and self.args.measures):
            self.story.append((t, json.dumps(e)))
        if kind != "say":
            return
        self.hands.hear(e, now)
        self.count.hear(e)
        if e.get("action") == "done" and self.done is None:
            self.done = e
            if e.get("result") not in RESULTS:
                self.wrong.append("t=%.1f: done with result %r" % (t, e.get("result")))

    def run(self):
        a, n, t0 = self.args, self.n, time.monotonic()
        guide = talk.Guide([a.bin, "--camera", "-", "--clock", "frames", "--fps", str(a.fps), "--sound", "none",
                            "--transcript", "-", "--journal", "none"], n.config())
        keep = open(os.path.join(a.dump, "night-%d.mjpeg" % n.seed), "wb") if a.dump else None
        frame, going = 0, True
        try:
            while going:
                t = frame / a.fps
                self.hands.step(t, 1 / a.fps)
                self.tube.tick(1 / a.fps)
                self.past.append((t, self.tube.a.copy(), self.tube.s.copy(), self.tube.z))
                jpeg = self.tube.picture(t)
                if keep:
                    keep.write(jpeg)
                going = guide.feed(jpeg)
                for e in guide.events():
                    self.hear(e, t)
                frame += 1
                if self.done and t > self.done["t"] + AFTER_DONE:
                    self.wrong.append("guide went on reading %.0f s after done" % AFTER_DONE)
                    break
                if t > a.limit:
                    break
        except talk.Hung as e:
            self.wrong.append("t=%.1f: %s" % (frame / a.fps, e))
            guide.kill()
        status, err = guide.finish()
        for e in guide.events():
            self.hear(e, frame / a.fps)
        if keep:
            keep.close()
            with open(os.path.join(a.dump, "night-%d.toml" % n.seed), "w") as f:
                f.write(n.config())
        if status != 0:
            self.wrong.append("exit status %s; stderr ends: %s" % (status, err.strip()[-300:]))
        return self.verdict(frame / a.fps, time.monotonic() - t0, err)

    def at(self, t):
        return self.past[min(len(self.past) - 1, max(0, int(round(t * self.args.fps))))]

    def verdict(self, lasted, wall, err):
        n, tol = self.n, self.n.tolerance
        seconds = self.done["t"] if self.done else lasted
        result = self.done.get("result") if self.done else "none"
        ratio = float(np.hypot(*self.at(seconds)[1])) / tol
        after = float(np.hypot(*self.tube.a)) / tol  # a hand still turning when done was said
        if self.hands.late:
            self.wrong.append("%d says came too late to be acted on in time (lag up to %.1f s)" % (self.hands.late, self.lag))
        loose = min(self.hands.turned)
        if loose < -3:
            self.wrong.append("a knob was loosened by %.1f turns in all" % -loose)
        if n.locks and result == "aligned" and not all(self.tube.snug):
            self.wrong.append("aligned, but locks were left loose: %s" % self.tube.snug)
        out = dict(seed=n.seed, F=n.F, D=n.D, seeing=n.seeing, start=float(np.hypot(*n.a0)), tol=tol, result=result,
                   ratio=ratio, after=after, seconds=seconds, hurried=self.hands.hurried, turns=self.count.turns, cues=self.count.cues,
                   false=result == "aligned" and max(ratio, after) > 1, wrong=self.wrong + self.hands.wrong,
                   wall=wall, frames=len(self.past), lag=self.lag, story="", flags="".join(
                       f for f, on in (("L", n.locks), ("M", n.mirrored), ("D", n.rate > 0.15), ("b", n.bare),
                                       ("1", n.one_side)) if on))
        if self.args.verbose or self.args.dump:
            out["story"] = self.tell(err)
        return out

    def tell(self, err):
        lines = [self.n.describe(), self.n.config().replace("\n", " | ")]
        story = [(t, 0, text) for t, text in self.story] + [(t, 1, "    HANDS " + text) for t, text in self.hands.log]
        last = -100.0
        for t, _, text in sorted(story, key=lambda x: (x[0], x[1])):
            if t - last > 1:
                _, a, s, z = self.at(t)
                lines.append("    TRUTH %6.1f axis %.2f tolerances %s px, star %s px of the frame's centre, z %+.2f mm (R %.0f)" % (
                    t, np.hypot(*a) / self.n.tolerance, np.round(self.n.M @ a / nights.PIXEL).astype(int),
                    np.round(self.n.M @ s / nights.PIXEL).astype(int), z, abs(z) / (2 * self.n.F * nights.PIXEL)))
                last = t
            lines.append("%6.1f %s" % (t, text))
        lines += ["events: %s" % self.seen, "stderr: %s" % err.strip()[-1000:]]
        return "\n".join(lines)


def one(job):
    try:
        return Watch(job).run()
    except KeyboardInterrupt:
        return None


def line(r):
    return "%5d  F/%.2f %4.0f mm  seeing %.1f  from %.2f mm (%5.1f tol)  %-5s %-26s ratio %5.2f  %5.1f s  turns %2d  cues %2d  hurried %d  %s%s" % (
        r["seed"], r["F"], r["D"], r["seeing"], r["start"], r["start"] / r["tol"], r["flags"], r["result"], r["ratio"],
        r["seconds"], r["turns"], r["cues"], len(r["hurried"]), "FALSE CLAIM (%.2f, at rest %.2f) " % (r["ratio"], r["after"]) if r["false"] else "",
        "; ".join(r["wrong"][:3]) + (" ... %d remarks" % len(r["wrong"]) if len(r["wrong"]) > 3 else ""))


def summary(rs):
    good = [r for r in rs if r["result"] in RESULTS[:2]]
    print("\n%d nights: %s" % (len(rs), ", ".join("%s %d" % (k, sum(r["result"] == k for r in rs)) for k in RESULTS + ("none",))))
    for key, name in (("seconds", "seconds"), ("turns", "turn cues"), ("cues", "cues in all"), ("ratio", "true ratio")):
        if good and key in good[0]:
            q = np.percentile([r[key] for r in good], (5, 50, 95, 100))
            print("  %-12s 5%% %.2f   median %.2f   95%% %.2f   most %.2f" % (name, *q))
    for r in rs:
        for what in r["hurried"]:
            print("  hurried, night %d, %s" % (r["seed"], what))
    over = [r for r in good if r["result"] != "aligned" and r["ratio"] > 1]
    print("  as-good-as-the-air-allows beyond the tolerance: %d %s" % (len(over), [(r["seed"], round(r["ratio"], 2)) for r in over]))
    false = [r for r in rs if r["false"]]
    print("  false claims: %d %s" % (len(false), [(r["seed"], round(max(r["ratio"], r["after"]), 2)) for r in false]))
    print("  nights with remarks: %s" % [r["seed"] for r in rs if r["wrong"]])
    print("  %.0f ms a frame, both sides" % (1e3 * sum(r["wall"] for r in rs) / max(1, sum(r["frames"] for r in rs))))
    return bool(false) or any(r["wrong"] for r in rs)


def main():
    p = argparse.ArgumentParser(description=__doc__)
    p.add_argument("bin", nargs="?", help="the halocue program")
    p.add_argument("--nights", type=int, default=10)
    p.add_argument("--seed", type=int, default=1, help="of the first night")
    p.add_argument("--jobs", type=int, default=1)
    p.add_argument("--size", default="960x720", help="of a frame, 5 um pixels")
    p.add_argument("--fps", type=int, default=10)
    p.add_argument("--limit", type=float, default=600, help="seconds of frames before the stream ends")
    p.add_argument("--hands", choices=sorted(hands.PEOPLE), default="quick", help="whose hands")
    p.add_argument("--untracked", action="store_true", help="the star drifts by 15 arcsec a second in every night")
    p.add_argument("--one-side", type=float, default=0, help="share of nights whose focuser reaches one side only")
    p.add_argument("--secondary", type=float, default=0, help="of the aperture, in every night, and untold")
    p.add_argument("--pixel-told", type=float, default=1, help="the pixel that is told, times the true one; 0 tells none")
    p.add_argument("--dump", help="folder for each night's stream, config and story")
    p.add_argument("--measures", action="store_true", help="with -v: measure events as well")
    p.add_argument("-v", "--verbose", action="store_true")
    p.add_argument("--selftest", action="store_true")
    a = p.parse_args()
    if a.selftest:
        import selftest
        return 1 if selftest.run() else 0
    if not a.bin:
        p.error("name the halocue program, or --selftest")
    a.bin, a.size = os.path.abspath(a.bin), tuple(int(x) for x in a.size.split("x"))
    if a.dump:
        os.makedirs(a.dump, exist_ok=True)
    jobs, rs = [(a, a.seed + i) for i in range(a.nights)], []
    with multiprocessing.Pool(a.jobs) as pool:
        for r in pool.imap(one, jobs):
            rs.append(r)
            if a.verbose:
                print("\n" + r["story"])
            if a.dump:
                with open(os.path.join(a.dump, "night-%d.txt" % r["seed"]), "w") as f:
                    f.write(r["story"] + "\n" + line(r) + "\n")
            print(line(r), flush=True)
    return 1 if summary(rs) else 0


if __name__ == "__main__":
    sys.exit(main())
