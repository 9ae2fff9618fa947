"""How well could anyone do? A coach that knows the truth talks to the same hands on the same nights, without frames.

It shows that words of the contract, carried out by these hands, can align every night, and what that takes at least.
"""
import math

import numpy as np

import hands
import night as nights


def push(n, k):
    """Where the axis point goes for one tightening turn of knob k, mm."""
    t = 2 * math.pi * n.clocks[k] / 12
    return -(2 / (3 * n.circle)) * n.pitch * n.sign * n.f * np.array([math.sin(t), math.cos(t)])


def advise(n, tube):
    """The next words; None when the axis point is well within the tolerance."""
    if n.locks and any(tube.snug):
        k = tube.snug.index(True)
        return dict(action="lock", knob=n.names[k], direction="release", text="Left-hand lock, release it.")
    if np.hypot(*tube.a) < 0.6 * n.tolerance:
        return None
    half = np.array(n.size) / 2 - abs(tube.z) / (2 * n.F * nights.PIXEL) - 30
    if (np.abs(tube.pixel(tube.s) - np.array(n.size) / 2) > 0.8 * half).any():
        return dict(action="recentre", text="Bring the star back to the middle.")
    best = None
    for k in range(3):
        p = push(n, k)
        turns = -float(tube.a @ p) / float(p @ p)
        while abs(turns) > 1e-3 and (np.abs(tube.pixel(tube.s + 2 * turns * p) - np.array(n.size) / 2) > half).any():
            turns *= 0.8
        left = float(np.hypot(*(tube.a + turns * p)))
        if best is None or left < best[0]:
            best = (left, k, turns)
    _, k, turns = best
    if abs(turns) * np.hypot(*push(n, k)) < 0.1 * np.hypot(*tube.a):
        return dict(action="recentre", text="Bring the star back to the middle.")
    return dict(action="turn", knob=n.names[k], direction="tighten" if turns > 0 else "loosen", turns=abs(turns),
                text="Left-hand knob, tighten a quarter turn.")


def play(seed, size):
    n = nights.Night(seed, size)
    n.bare = False
    tube = nights.Tube(n, camera=False)
    h, count, t, free, calm = hands.Hands(n, tube), hands.Count(), 0.0, 5.0, 0
    while t < 600:
        t += 0.1
        h.step(t, 0.1)
        tube.tick(0.1)
        busy = h.job is not None or h.queue
        calm = 0 if busy else calm + 1
        if t < free or calm < 10:
            continue
        e = advise(n, tube)
        if e is None:
            return t + 15, count.turns, count.cues, float(np.hypot(*tube.a)) / n.tolerance  # 15 s: both sides
        e.update(t=t, event="say")
        h.hear(e, t)
        count.hear(e)
        free = t + hands.spoken(e)
    return t, count.turns, count.cues, float(np.hypot(*tube.a)) / n.tolerance


def run(nights_, size):
    out = np.array([play(s, size) for s in range(1, nights_ + 1)])
    print("floor, %d nights at %dx%d: seconds median %.0f 95%% %.0f, turn cues %.0f and %.0f, cues %.0f and %.0f, worst ratio %.2f" % (
        nights_, *size, *(q for i in (0, 1, 2) for q in np.percentile(out[:, i], (50, 95))), out[:, 3].max()))
    return out
