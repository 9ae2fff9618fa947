"""One night: the telescope, its knobs, the mount, and the hands that do only what they are told.

Tube axes: x to the right, y up, seen from behind the mirror; origin where the tube's axis meets the sensor, which is the
frame's centre and the target. mm throughout. The camera sees M (tube vector), M any rotation, mirrored on some nights.
"""
import math

import numpy as np

import render

PIXEL = 0.005
NAMES = [("top", "left-hand", "right-hand"), ("one bump", "two bumps", "three bumps"), ("red", "green", "blue"),
         ("A", "B", "C"), ("upper", "near", "far")]
PITCHES = (0.5, 0.7, 0.8, 1.0, 1.25, 0.79375, 1.27)   # mm a turn: common metric and inch threads


class Night:
    """Everything that chance decides before the first frame."""

    def __init__(self, seed, size, fps=10, one_side=0.0, who="quick", standing=False, secondary=0.0, pixel_told=1.0):
        self.who = who
        r = self.rng = np.random.default_rng([20031, seed])
        self.seed, self.size, self.fps = seed, size, fps
        self.F = r.uniform(4, 8)
        self.D = math.exp(r.uniform(math.log(114), math.log(406)))
        self.f = self.D * self.F
        self.secondary = self.D * (r.uniform(0.19, 0.26) + 0.05 * (8 - self.F) / 4)
        if secondary:
            self.secondary = secondary * self.D
        self.pixel_told = pixel_told
        self.dist = self.f - self.D / 2 - r.uniform(50, 110)
        self.seeing = r.uniform(1, 4)
        self.a0 = polar(r.uniform(0.5, 6), r)
        self.x_sec = polar(r.uniform(0, 3), r)
        self.vanes = spider(r)
        self.r0px = r.uniform(60, 120)
        self.z0 = r.choice((-1, 1)) * self.r0px * PIXEL * 2 * self.F
        w, h = size
        room = np.array([w / 2, h / 2]) - self.r0px - 25
        self.turnM = r.uniform(0, 2 * math.pi)
        self.mirrored = r.random() < 0.4
        c, s = math.cos(self.turnM), math.sin(self.turnM)
        self.M = np.array([[c, -s], [s, c]]) @ np.diag([-1 if self.mirrored else 1, 1])
        self.s0 = self.M.T @ (r.uniform(-1, 1, 2) * np.maximum(room, 10) * PIXEL)
        untracked = r.random() < 0.3
        rate = math.exp(r.uniform(math.log(0.2), math.log(4))) if untracked else r.uniform(0, 0.15)  # arcsec/s
        self.drift = polar(rate * render.ARCSEC * self.f, r)
        if standing:  # nothing tracks: 15.04 arcsec/s, the sky at the celestial equator
            rate = 15.04
            self.drift = self.drift / np.hypot(*self.drift) * rate * render.ARCSEC * self.f
        self.rate = rate
        self.shake = r.uniform(0.2, 1.5) * PIXEL
        self.pitch = float(r.choice(PITCHES))
        self.circle = self.D * r.uniform(0.36, 0.46)
        self.sign = int(r.choice((-1, 1), p=(0.7, 0.3)))   # tightening pulls the mirror back, or pushes it
        self.gain = list(r.uniform(0.88, 1.12, 3))
        self.backlash = list(r.uniform(0, 0.03, 3)) if r.random() < 0.6 else [0.0] * 3
        self.locks = bool(r.random() < 0.3)
        self.pull = [polar(r.uniform(0.03, 0.25), r) for _ in range(3)]  # what snugging a lock does to the axis point
        k = int(r.integers(12))
        self.clocks = [(k + 4 * i) % 12 or 12 for i in r.permutation(3)]
        self.names = list(NAMES[int(r.integers(len(NAMES)))])
        self.bare = bool(r.random() < 0.3) and not self.locks
        self.tells = {key: bool(r.random() < 0.6) for key in ("secondary", "distance", "cell")}
        if secondary:
            self.tells["secondary"] = False
        self.rho = math.exp(-0.1 / r.uniform(0.03, 0.15))
        self.level, self.electrons = r.uniform(70, 140), r.uniform(8, 40)
        self.sky, self.gradient, self.auto = r.uniform(1, 12), r.uniform(-2, 2, 2), bool(r.random() < 0.5)
        self.one_side = bool(r.random() < one_side)

    @property
    def tolerance(self):
        return 0.0111 * self.F ** 3

    def config(self):
        out = ["[telescope]", "aperture_mm = %.1f" % self.D, "focal_length_mm = %.1f" % self.f]
        if not self.bare and self.tells["secondary"]:
            out.append("secondary_mm = %.1f" % self.secondary)
        if not self.bare and self.tells["distance"]:
            out.append("secondary_distance_mm = %.0f" % self.dist)
        if self.pixel_told:
            out += ["[camera]", "pixel_um = %.4g" % (PIXEL * 1e3 * self.pixel_told)]
        if not self.bare:
            out.append("[mirror_cell]")
            if self.tells["cell"]:
                out += ["screw_pitch_mm = %g" % self.pitch, "screw_circle_radius_mm = %.0f" % self.circle]
            out += ['kind = "%s"' % ("spring" if self.sign < 0 else "screws"), "locks = %s" % str(self.locks).lower()]
            for name, clock in zip(self.names, self.clocks):
                out += ["[[mirror_cell.knobs]]", 'name = "%s"' % name, "clock = %d" % clock]
        return "\n".join(out) + "\n"

    def describe(self):
        return ("night %d: D %.0f F/%.2f f %.0f secondary %.1f (%.2f) at %.0f, offset %.1f mm; seeing %.1f\" (rho %.2f); axis %.2f mm "
                "off, tolerance %.2f; z %+.2f mm (R %.0f px); drift %.2f\"/s; camera %.0f deg%s; pitch %.2f circle %.0f %s backlash %s "
                "gain %s; locks %s; %s; clocks %s" % (
                    self.seed, self.D, self.F, self.f, self.secondary, self.secondary / self.D, self.dist, np.hypot(*self.x_sec),
                    self.seeing, self.rho, np.hypot(*self.a0), self.tolerance, self.z0, self.r0px, self.rate,
                    math.degrees(self.turnM), " mirrored" if self.mirrored else "", self.pitch, self.circle,
                    "pulls" if self.sign < 0 else "pushes", np.round(self.backlash, 3), np.round(self.gain, 2), self.locks,
                    "bare config" if self.bare else ",".join(self.names), self.clocks))


def polar(length, r):
    t = r.uniform(0, 2 * math.pi)
    return length * np.array([math.cos(t), math.sin(t)])


def spider(r):
    n, t, w = int(r.choice((3, 4, 4))), r.uniform(0, 2 * math.pi), r.uniform(0.6, 1.8)
    return [(t + 2 * math.pi * i / n, w) for i in range(n)]


class Tube:
    """The telescope as it stands now."""

    def __init__(self, n, camera=True):
        self.n, self.rng = n, np.random.default_rng([20032, n.seed])
        self.a, self.s, self.z, self.dist, self.x_sec = n.a0.copy(), n.s0.copy(), n.z0, n.dist, n.x_sec.copy()
        self.hand = [0.0] * 3
        self.screw = [self.rng.uniform(-0.5, 0.5) * b for b in n.backlash]
        self.snug = [n.locks] * 3
        self.touched = 0.0
        self.gust = np.zeros(2)
        if not camera:
            return
        r0 = 0.98 * render.LAMBDA0 / (n.seeing * render.ARCSEC)
        self.air = render.Air(n.D / r0, n.rho, self.rng)
        self.star = render.Star(n.D, n.F, n.secondary, [(a, w) for a, w in n.vanes], PIXEL)
        self.star.vanes = [(math.atan2(*(n.M @ [math.cos(a), math.sin(a)])[::-1]), w) for a, w in n.vanes]
        self.camera = render.Camera(n.size, n.level, n.r0px, n.electrons, n.sky, n.gradient, n.auto, self.rng)
        # What 36 modes leave out blurs by about sqrt(rest) of the diffraction scale; the lens and chip add theirs.
        self.blur = 0.0025 + 0.5 * render.LAMBDA0 * n.F * min(3.0, math.sqrt(self.air.rest))

    def turn(self, k, turns):
        """Knob k by turns, clockwise seen from behind > 0."""
        n = self.n
        self.hand[k] += turns
        half = n.backlash[k] / 2
        was = self.screw[k]
        self.screw[k] = min(max(was, self.hand[k] - half), self.hand[k] + half)
        d = (self.screw[k] - was) * n.pitch * n.sign * n.gain[k] * (0.15 if n.locks and self.snug[k] else 1.0)
        t = 2 * math.pi * n.clocks[k] / 12
        self.lean(-(2 / (3 * n.circle)) * d * np.array([math.sin(t), math.cos(t)]))

    def lean(self, tilt):
        self.a = self.a + self.n.f * tilt
        self.s = self.s + 2 * self.n.f * tilt
        self.touched = 1.0

    def lock(self, k, snug):
        if self.snug[k] == snug:
            return
        self.snug[k] = snug
        self.lean((1 if snug else -1) * self.n.pull[k] * self.rng.uniform(0.8, 1.2) / self.n.f)

    def silhouette(self):
        return self.x_sec - (self.dist / self.n.f) * (2 * self.a - self.s)

    def pixel(self, v):
        return (np.array(self.n.size) - 1) / 2 + self.n.M @ v / PIXEL

    def tick(self, dt):
        self.s = self.s + self.n.drift * dt
        self.touched *= 0.6
        if self.rng.random() < 0.004:
            self.gust = polar(self.rng.uniform(3, 10) * PIXEL, self.rng)
        self.gust = self.gust * -0.7

    def picture(self, t):
        """The JPEG of this moment."""
        n, r = self.n, self.rng
        shake = n.shake * (1 + 3 * self.touched) * r.standard_normal(2) + self.gust
        s = self.s + shake
        at = self.pixel(s)
        R = abs(self.z) / (2 * n.F * PIXEL)
        coeffs = self.air.next()
        patch, x0, y0 = None, 0, 0
        if (at > -1.6 * R - 60).all() and (at < np.array(n.size) + 1.6 * R + 60).all():
            whole = np.round(at)
            # the fraction of a pixel goes in through a tilt, so that the patch sits on whole pixels
            frac = (at - whole) * PIXEL
            patch, x0, y0 = self.star.image(self.z, n.M @ (self.s - self.a), n.M @ self.silhouette(),
                                            self.with_shift(coeffs, frac), self.blur)
            at = whole
        frame = self.camera.frame(at, R, patch, x0, y0, max(0.3, 1 + 0.06 * r.standard_normal()))
        return self.camera.jpeg(frame)

    def with_shift(self, coeffs, mm):
        c = coeffs.copy()
        c[:2] -= mm * math.pi / (2 * self.n.F * render.LAMBDA0)
        return c
