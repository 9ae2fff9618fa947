"""Hands that do only what action, knob, direction and turns say: late, roughly, and now and then wrongly.

They never look at the frame and never read the words' meaning; text counts only for how long it takes to say.
"""
import math

import numpy as np

from night import PIXEL, polar

# Whose hands: seconds from the words' end to the move, the same for a stop, how far a turn may be off, wrong knob,
# wrong way, chance of a pause in the midst of a turn, seconds of walk between focuser and knobs. All are guesses.
PEOPLE = {
    "quick": dict(react=(0.4, 1.2), stop=(0.4, 1.2), off=0.35, knob=0.04, way=0.03, pause=0.0, walk=(0, 0)),
    "early": dict(react=(-1.5, 0.3), stop=(0.3, 0.8), off=0.35, knob=0.04, way=0.03, pause=0.0, walk=(0, 0)),
    "slow3": dict(react=(2.5, 3.5), stop=(0.4, 1.2), off=0.35, knob=0.04, way=0.03, pause=0.0, walk=(0, 0)),
    "slow6": dict(react=(5.0, 7.0), stop=(0.4, 1.2), off=0.35, knob=0.04, way=0.03, pause=0.0, walk=(0, 0)),
    "human": dict(react=(2.0, 4.0), stop=(0.4, 1.2), off=0.5, knob=0.1, way=0.05, pause=0.2, walk=(2, 4)),
    "first": dict(react=(3.0, 12.0), stop=(0.5, 1.5), off=0.5, knob=0.1, way=0.05, pause=0.3, walk=(4, 8)),
}
ASKS = {"turn", "recentre", "defocus", "other-side", "lock"}

ACTIONS = {"turn", "stop", "recentre", "defocus", "other-side", "lock", "wait", "done", "warn", "tell"}
REPLACES = {"turn", "stop", "recentre", "defocus", "other-side", "lock", "wait", "done"}


def spoken(event):
    """Seconds that the words take."""
    return float(event.get("seconds") or 0.3 + 0.065 * len(event.get("text", "")))


class Hands:
    def __init__(self, night, tube):
        self.n, self.tube, self.heard, self.rng = night, tube, 0, None
        self.queue, self.job, self.known, self.log, self.wrong = [], None, {}, [], []
        self.turned, self.late, self.busy_until = [0.0] * 3, 0, 0.0
        self.who, self.at_focuser, self.doing = PEOPLE[getattr(night, "who", "quick")], True, None
        self.hurried = []

    def hear(self, event, now):
        """Checks the event's form and plans what follows from it."""
        act = event.get("action")
        if act not in ACTIONS:
            self.wrong.append("t=%.1f: action %r is not in the contract" % (event["t"], act))
        if event["t"] < self.busy_until - 0.05 and act not in ("stop",):
            self.wrong.append("t=%.1f: %s spoken over words that last until %.1f" % (event["t"], act, self.busy_until))
        end = event["t"] + spoken(event)
        if "seconds" in event:
            self.busy_until = end
        if act in REPLACES:
            self.heard += 1  # chance belongs to the cue, so that a night does not depend on when an event is read
            rng = np.random.default_rng([20033, self.n.seed, self.heard])
            if act in ASKS:
                self.compare(event)
                if event.get("again") and self.knows(event):
                    return
            low, high = self.who["react" if act in ASKS else "stop"]
            due = max(event["t"] + 0.3, end + rng.uniform(low, high)) + self.walk(act, rng)
            if due < now - 0.05:
                self.late += 1
            if act not in ("defocus", "other-side", "lock"):
                self.queue = [q for q in self.queue if q[0] <= due and act not in ASKS]
            self.queue.append((due, event, rng))
            self.queue.sort(key=lambda q: q[0])

    def same(self, a, b):
        return all(a.get(k) == b.get(k) for k in ("action", "knob", "direction"))

    def knows(self, event):
        """Whether this is what the hands are on their way to, or at."""
        return any(self.same(e, event) for _, e, _ in self.queue) or (self.job is not None and self.same(self.doing, event))

    def compare(self, event):
        """Keeps what is asked for before the last thing asked for was begun."""
        waiting = [e for _, e, _ in self.queue if e["action"] in ASKS]
        if waiting:
            last = waiting[-1]
            self.hurried.append("t=%.1f: %s %s, %.1f s after %s%s" % (
                event["t"], "again" if self.same(last, event) else "instead", event["text"], event["t"] - last["t"] - spoken(last),
                last["text"], "; why: " + event["why"] if event.get("why") else ""))

    def walk(self, act, rng):
        if act not in ASKS or act == "recentre" or (act in ("defocus", "other-side")) == self.at_focuser:
            return 0.0
        self.at_focuser = not self.at_focuser
        return rng.uniform(*self.who["walk"])

    def slot(self, name, t):
        """The knob a name means; with a bare config the names are guide's own, taken as they come."""
        n = self.n
        if not n.bare:
            if name in n.names:
                return n.names.index(name)
            self.wrong.append("t=%.1f: knob %r is not one of the config's %s" % (t, name, n.names))
            return None
        if name not in self.known:
            if len(self.known) == 3 or not name:
                self.wrong.append("t=%.1f: knob %r, a fourth name after %s" % (t, name, list(self.known)))
                return None
            self.known[name] = self.turn_about()
        return self.known[name]

    def turn_about(self):
        return next(k for k in range(3) if k not in self.known.values())

    def step(self, t, dt):
        while self.queue and self.queue[0][0] <= t:
            _, event, self.rng = self.queue.pop(0)
            self.start(t, event)
        if self.job:
            try:
                self.job.send(dt)
            except StopIteration:
                self.job = None

    def note(self, t, text):
        self.log.append((t, text))

    def start(self, t, event):
        act = event["action"]
        if self.job:
            self.job.close()
            self.job = None
        self.doing = event
        plan = {"turn": self.turn, "recentre": self.recentre, "defocus": self.defocus, "other-side": self.other_side,
                "lock": self.lock}.get(act)
        if plan is None:
            self.note(t, "hands off (%s)" % act)
            return
        self.job = plan(t, event)
        next(self.job, None)

    def turn(self, t, event):
        k, way, amount = self.slot(event.get("knob"), t), event.get("direction"), event.get("turns")
        if way not in ("tighten", "loosen") or not isinstance(amount, (int, float)) or not amount > 0:
            self.wrong.append("t=%.1f: turn with direction %r and turns %r" % (t, way, amount))
            return
        if k is None:
            return
        r, slip = self.rng, ""
        if r.random() < self.who["knob"]:
            k, slip = (k + int(r.integers(1, 3))) % 3, " WRONG KNOB"
        sign = 1 if way == "tighten" else -1
        if r.random() < self.who["way"]:
            sign, slip = -sign, slip + " WRONG WAY"
        left = amount * r.uniform(1 - self.who["off"], 1 + self.who["off"])
        rest = left * r.uniform(0.3, 0.7) if r.random() < self.who["pause"] else -1.0
        speed = min(max(left / 1.2, 0.03), 0.3) * r.uniform(0.8, 1.25)
        self.note(t, "turns knob %d (%s) by %+.3f at %.2f turns/s%s" % (k, event["knob"], sign * left, speed, slip))
        dt = yield
        while left > 0:
            part = min(left, speed * dt)
            left -= part
            self.turned[k] += sign * part
            self.tube.turn(k, sign * part)
            dt = yield
            if 0 < left < rest:  # stops to think, lets go, and begins again
                rest, wait = -1.0, r.uniform(1, 3)
                self.note(t, "lets go of the knob for %.1f s" % wait)
                while wait > 0:
                    wait -= dt
                    dt = yield

    def move(self, t, end, seconds, what):
        """A smooth push of the tube; end() gives the goal for the star."""
        tube = self.tube
        self.note(t, what)
        gone, dt = 0.0, (yield)
        while gone < seconds:
            share = min(1.0, dt / (seconds - gone))
            tube.s = tube.s + share * (end - tube.s) + polar(0.5 * PIXEL, self.rng)
            gone += dt
            dt = yield

    def recentre(self, t, event):
        r = self.rng
        px = 0.15 * min(self.n.size) * math.sqrt(r.random())
        goal = np.zeros(2)
        if event.get("goal_px"):
            at = np.array([event["goal_px"]["x"], event["goal_px"]["y"]]) - (np.array(self.n.size) - 1) / 2
            goal = self.n.M.T @ at * PIXEL
        far = float(np.hypot(*self.tube.s))
        yield from self.move(t, goal + polar(px * PIXEL, r), r.uniform(1.5, 3.5), "moves the tube, star was %.0f px off" % (far / PIXEL))

    def rack(self, t, goal, seconds):
        self.note(t, "focuser from %+.2f to %+.2f mm" % (self.tube.z, goal))
        gone, dt = 0.0, (yield)
        while gone < seconds:
            self.tube.z += min(1.0, dt / (seconds - gone)) * (goal - self.tube.z)
            gone += dt
            dt = yield

    def defocus(self, t, event):
        way = event.get("direction")
        if way not in ("more", "less"):
            self.wrong.append("t=%.1f: defocus with direction %r" % (t, way))
            return
        part = self.rng.uniform(0.16, 0.34)
        far = part * max(abs(self.tube.z), 0.3 * abs(self.n.z0))  # near focus, where there is no ring, until one is seen
        sign = math.copysign(1, self.tube.z) * (1 if way == "more" else -1)
        yield from self.rack(t, self.tube.z + sign * far, self.rng.uniform(0.8, 1.6))

    def other_side(self, t, event):
        goal = -self.tube.z * self.rng.uniform(0.8, 1.25)
        if self.n.one_side and goal * self.n.z0 < 0:
            goal = -math.copysign(0.15 * abs(self.n.z0), self.n.z0)
            self.note(t, "the focuser does not reach the other side")
        yield from self.rack(t, goal, self.rng.uniform(2, 4))

    def lock(self, t, event):
        way, k = event.get("direction"), self.slot(event.get("knob"), t)
        if way not in ("release", "snug") or k is None:
            self.wrong.append("t=%.1f: lock with direction %r knob %r" % (t, way, event.get("knob")))
            return
        if not self.n.locks:
            self.wrong.append("t=%.1f: lock, but this cell has none" % t)
            return
        dt = yield
        for _ in range(int(self.rng.uniform(8, 16))):
            dt = yield
        del dt
        a = self.tube.a.copy()
        self.tube.lock(k, way == "snug")
        self.note(t, "%s lock %d: axis by %.2f mm" % (way, k, np.hypot(*(self.tube.a - a))))


class Count:
    """Turn cues: the same knob and direction taken up again after a recentre counts once."""

    def __init__(self):
        self.turns, self.cues, self.last, self.between = 0, 0, None, False

    def hear(self, event):
        act = event.get("action")
        if act in REPLACES and act != "done":
            self.cues += 1
        if act == "recentre":
            self.between = True
        elif act == "turn":
            this = (event.get("knob"), event.get("direction"))
            if not (self.between and this == self.last):
                self.turns += 1
            self.last, self.between = this, False


