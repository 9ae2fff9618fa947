#!/usr/bin/env python3
"""draw.py --out DIR [--seed S] [--kind KIND ...] [--count N]: defocused stars with known truth, drawn under faults.

Scalar Fresnel diffraction of the pupil on a grid chosen for each frame, photons, read noise, the camera's faults, PNG. The truth is
geometry: rays through the mirror's edge and through the edge of the silhouette, landing at star - 2 F grad W(u), trace two
outlines; circles fitted to them give centres and radii. Axes, pupil and wavefront are those of ../observer/render.py.
Needs numpy and Pillow. Ranges without a source beside them are guesses at what telescopes and cameras do.
"""
import argparse
import json
import math
import os
import sys

import numpy as np
from PIL import Image

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "observer"))
import camera  # noqa: E402
from render import LAMBDA0, Air, Star, zernike  # noqa: E402

PUPIL = ("sizes", "far", "oval", "coat", "edge", "figure", "tube")
KINDS = PUPIL + tuple(camera.FAULTS) + ("air",)
COLOURS = ((0.85, 0.6), (0.92, 0.9), (1.0, 1.0), (1.08, 0.9), (1.16, 0.6))  # wave number x LAMBDA0, weight: 647 to 474 nm, a guess
PIXELS = (2.4, 2.9, 3.75, 4.63, 5.86)  # um, common sensors
DARK = 0.9  # least Fresnel number of the shadow, eps^2 N, a guess: below it the bright spot in its middle fills it


def tolerance_mm(F, eps):
    """The shadow's offset for a coma of 1/13.4 wave RMS, a star 0.0111 F^3 mm from the axis point."""
    return 0.0111 * F ** 3 * 3 * (1 - eps ** 2) / (16 * F ** 2)


def turn(length, angle):
    return length * np.array([math.cos(angle), math.sin(angle)])


class Scene:
    """Everything chance decides about one telescope and star. c: silhouette's place in mirror radii; h: star minus axis, mm."""

    def __init__(self, kind, i, count, rng):
        self.kind, self.note = kind, {}
        strata = (i + rng.random()) / count
        while True:
            far = kind == "far"
            self.D = float(np.round(rng.uniform(114, 300)))
            self.f = float(np.round(self.D * (rng.uniform(6, 8) if far else rng.uniform(4, 8))))
            self.F = self.f / self.D
            self.px = float(rng.choice(PIXELS)) / 1000
            self.R = rng.uniform(30, 60) if far else rng.uniform(40, 180)
            eps = 0.10 + 0.42 * strata if kind == "sizes" else rng.uniform(0.18, 0.38)
            self.secondary = round(eps * self.D, 1)
            self.eps = self.secondary / self.D
            self.z = 2 * self.F * self.px * self.R * (1 if far else rng.choice((-1, 1)))
            self.N = abs(self.z) / (4 * self.F ** 2 * LAMBDA0)
            if self.eps ** 2 * self.N >= DARK:
                break
        self.axes, self.slant = (self.eps, self.eps), 0.0
        self.direction = rng.uniform(0, 2 * math.pi)
        self.far(strata) if far else self.near(rng)
        k = int(rng.choice((3, 4)))
        self.vanes = [(rng.uniform(0, 6.28) * (j == -1) + self.direction * 3 + 2 * math.pi * j / k, rng.uniform(0.5, 2.0)) for j in range(k)]
        self.extra = None  # a wavefront in waves, W(u, v), that also bends the rays of the truth
        self.hidden = None  # one that does not: too steep for rays at the very edge
        getattr(self, "do_" + kind, lambda rng: None)(rng)

    def near(self, rng):
        """0 to 3 tolerances; in every other frame up to half of it is the silhouette's own displacement."""
        d = turn(rng.uniform(0, 3) * tolerance_mm(self.F, self.eps), self.direction)
        share = rng.choice((0, rng.uniform(0, 0.5)))
        self.place(d * (1 - share), turn(np.hypot(*d) * share, rng.uniform(0, 2 * math.pi)))

    def far(self, strata):
        """Mirror knocked, star brought back to the middle: coma and the silhouette's walk of twice the tilt, both toward the axis
        point outside focus. The secondary stands f - D/2 - 80 mm from the mirror."""
        d = (0.30 + (0.97 * (1 - self.eps) - 0.30) * strata) * self.R * self.px
        coma = 3 * (1 - self.eps ** 2) / (16 * self.F ** 2)
        walk = 2 * self.z * (self.f - self.D / 2 - 80) / self.f ** 2
        self.place(turn(d * coma / (coma + walk), self.direction), turn(d * walk / (coma + walk), self.direction))

    def place(self, coma, silhouette):
        self.coma, self.silhouette = coma, silhouette  # mm on the sensor
        self.h = -coma * 16 * self.F ** 2 / (3 * (1 - self.eps ** 2))
        self.c = -silhouette * 2 * self.F / self.z

    def do_oval(self, rng):
        q = rng.uniform(1.0, 1.25)
        self.axes, self.slant = (self.eps * math.sqrt(q), self.eps / math.sqrt(q)), rng.uniform(0, math.pi)
        self.note = {"axis_ratio": q}

    def do_coat(self, rng):
        self.note = {"gradient": 0.2, "angle": rng.uniform(0, 2 * math.pi)}

    def do_edge(self, rng):
        """Turned down: the wavefront falls behind by half a wave, as the square of the way into the zone."""
        r0 = 1 - rng.uniform(0.05, 0.10)
        self.hidden = lambda u, v: -0.5 * (np.clip(np.hypot(u, v) - r0, 0, None) / (1 - r0)) ** 2
        self.note = {"zone": 1 - r0}

    def do_figure(self, rng):
        """Coefficients of Zernike's polynomials as Born and Wolf have them (peak 1, not RMS 1), one, or all three at once."""
        which = ("spherical", "astigmatism", "trefoil", "all")[rng.integers(4)]
        sign, a, t = rng.choice((-1, 1)), rng.uniform(0, 6.28), rng.uniform(0, 6.28)

        def w(u, v):
            r, p, out = np.hypot(u, v), np.arctan2(v, u), 0 * u
            if which in ("spherical", "all"):
                out = out + sign * 0.4 * (6 * r ** 4 - 6 * r ** 2 + 1)
            if which in ("astigmatism", "all"):
                out = out + 0.3 * r ** 2 * np.cos(2 * p - a)
            if which in ("trefoil", "all"):
                out = out + 0.25 * r ** 3 * np.cos(3 * p - t)
            return out
        self.extra, self.note = w, {"figure": which}

    def do_tube(self, rng):
        """A straight end cuts off a chord (6 % deep it is 40 degrees wide); an arc is a sector of 40 degrees."""
        self.note = {"shape": str(rng.choice(("straight", "arc"))), "depth": rng.uniform(0.02, 0.06), "angle": rng.uniform(0, 2 * math.pi)}

    def wave(self, u, v, all=True):
        """W in mm without defocus; the tilt that would carry the ring's outline off is taken out."""
        hu, r2 = self.h[0] * u + self.h[1] * v, u * u + v * v
        w = -hu * (r2 - 3) / (32 * self.F ** 3) + hu ** 2 / (8 * self.f * self.F ** 2)
        if self.extra:
            w = w + self.extra(u, v) * LAMBDA0
        if all and self.hidden:
            w = w + self.hidden(u, v) * LAMBDA0
        return w

    def outline(self, centre, axes, slant):
        """(x, y, radius) in px of the circle fitted to where the rays through an ellipse on the mirror land."""
        t = np.arange(720) * (2 * math.pi / 720)
        p, q = axes[0] * np.cos(t), axes[1] * np.sin(t)
        u = centre[0] + p * math.cos(slant) - q * math.sin(slant)
        v = centre[1] + p * math.sin(slant) + q * math.cos(slant)
        d, k = 1e-4, -2 * self.F / self.px
        z = self.z / (4 * self.F ** 2)
        x = k * (z * u + (self.wave(u + d, v, False) - self.wave(u - d, v, False)) / (2 * d))
        y = k * (z * v + (self.wave(u, v + d, False) - self.wave(u, v - d, False)) / (2 * d))
        return fit_circle(x, y)

    def mask(self, u, v, rg):
        """Transmission of the pupil in amplitude; edges grey over one cell."""
        m = np.clip(0.5 + (1 - np.hypot(u, v)) * rg, 0, 1)
        du, dv = u - self.c[0], v - self.c[1]
        p = du * math.cos(self.slant) + dv * math.sin(self.slant)
        q = -du * math.sin(self.slant) + dv * math.cos(self.slant)
        a, b = self.axes
        s = np.hypot(p / a, q / b)
        slope = np.hypot(p / a ** 2, q / b ** 2) / np.maximum(s, 1e-9)
        m = m * np.clip(0.5 + (s - 1) / np.maximum(slope, 1e-9) * rg, 0, 1)
        for angle, width in self.vanes:
            along, half = du * math.cos(angle) + dv * math.sin(angle), width / self.D
            across = np.abs(dv * math.cos(angle) - du * math.sin(angle))
            m = m * np.where(along > 0, np.clip(0.5 + (across - half) * rg, 1 - min(1, 2 * half * rg), 1), 1)
        n = self.note
        if self.kind == "tube":
            along, across = u * math.cos(n["angle"]) + v * math.sin(n["angle"]), v * math.cos(n["angle"]) - u * math.sin(n["angle"])
            lit = (1 - n["depth"] - (along if n["shape"] == "straight" else np.hypot(u, v))) * rg
            if n["shape"] == "arc":
                lit = np.maximum(lit, (np.abs(np.arctan2(across, along)) - math.radians(20)) * rg)
            m = m * np.clip(0.5 + lit, 0, 1)
        if self.kind == "coat":
            m = m * np.sqrt(1 - n["gradient"] * (1 - u * math.cos(n["angle"]) - v * math.sin(n["angle"])) / 2)
        return m


def fit_circle(x, y):
    """Least squares of the distances from a closed row of points, each direction from the centre weighing alike."""
    c, size = np.array([x.mean(), y.mean()]), 0.0
    for _ in range(20):
        dx, dy = x - c[0], y - c[1]
        r, t = np.hypot(dx, dy), np.arctan2(dy, dx)
        step = np.roll(t, -1) - np.roll(t, 1)
        w = np.sqrt(np.abs((step + math.pi) % (2 * math.pi) - math.pi))
        a = np.stack([dx / r, dy / r, np.ones_like(r)], 1)
        *move, size = np.linalg.lstsq(a * w[:, None], r * w, rcond=None)[0]
        c = c + move
    return c[0], c[1], size


def grid(scene, fine=1.0):
    """Samples in a mirror radius and across the window of four radii. Enough for every pixel, for the edge waves to half
    a radius from their edge and more (N cycles a radius each radius away), and for the steepest wavefront (20 cycles a radius)."""
    need = min(256, max(128, 1.6 * scene.R, 1.4 * scene.N)) * fine
    rg = next((s for s in (128, 160, 192, 240, 256) if s >= need), 32 * math.ceil(need / 32))
    return rg, 4 * rg


def light(scene, air=None, colours=COLOURS, fine=1.0):
    """Intensity on the reduced grid, 1 where the mirror is unobstructed and far from edges."""
    rg, n = grid(scene, fine)
    m = 2 * rg + 6
    ax = (np.arange(m) - (m - 1) / 2) / rg
    u, v = np.meshgrid(ax, ax)
    mask, w = scene.mask(u, v, rg), scene.wave(u, v)
    if air is not None:
        w = w + sum(a * zernike(j, u, v) for j, a in zip(Air.MODES, air) if j > 3) * (LAMBDA0 / (2 * math.pi))
    lit = np.nonzero(mask)
    freq, out, o = np.fft.fftfreq(n) * rg, np.zeros((n, n)), (n - m) // 2
    for k, weight in colours:
        field = np.zeros((n, n), complex)
        field[lit[0] + o, lit[1] + o] = mask[lit] * np.exp(1j * (2 * math.pi * k / LAMBDA0) * w[lit])
        big = 2 * scene.z / (8 * scene.F ** 2) * k / LAMBDA0
        # light that would leave the window by more than it is wide comes in on the other side: those frequencies fade out
        one = np.exp(-1j * math.pi * freq ** 2 / big) * np.clip((2.3 - np.abs(freq / big)) / 0.6, 0, 1)
        field = np.fft.fft2(field)
        field *= one[:, None]
        field *= one[None, :]
        field = np.fft.ifft2(field)
        out += weight / sum(q for _, q in colours) * (field.real ** 2 + field.imag ** 2)
    return out


def on_sensor(scene, image, star, size, blur):
    """The light in each pixel of a sensor size = (w, h), rays that nothing bends landing at star."""
    n = image.shape[0]
    cell = scene.R * 4 / n
    pos = -math.copysign(1, scene.z) * cell * (np.arange(n) - (n - 1) / 2)
    image = Star.spread(image, np.arange(size[1]), pos + star[1], cell, blur).T
    return Star.spread(image, np.arange(size[0]), pos + star[0], cell, blur).T * cell ** 2


def draw(kind, i, count, seed):
    """A frame (8 or 16 bits) and its truth."""
    rng = np.random.default_rng([seed, KINDS.index(kind), i])
    s = Scene(kind, i, count, rng)
    ring = s.outline((0, 0), (1, 1), 0)
    shadow = s.outline(s.c, s.axes, s.slant)
    size = (640, 480) if s.R < 130 else (800, 600)
    room = [x / 2 - 1.25 * s.R for x in size]
    centre = np.array([(size[0] - 1) / 2 + room[0] * rng.uniform(-0.6, 0.6), (size[1] - 1) / 2 + room[1] * rng.uniform(-0.6, 0.6)])
    if kind == "air":  # short exposures averaged, each in one of the colours; r0 for 1 to 3 arcsec
        r0 = 0.98 * LAMBDA0 / math.radians(rng.uniform(1, 3) / 3600)
        air = Air(s.D / r0, 0.0, rng)
        image = sum(light(s, air.next(), COLOURS[j % 5:j % 5 + 1]) for j in range(20)) / 20
        s.note = {"r0_mm": r0, "exposures": 20}
    else:
        image = light(s)
    lit = on_sensor(s, image, centre - ring[:2], size, rng.uniform(0.2, 0.6))
    frame, note = camera.expose(kind, lit, rng)
    sum_px = (s.coma + s.silhouette) / s.px
    number = lambda x: [round(float(q), 4) for q in x]  # noqa: E731
    return frame, {
        "kind": kind, "aperture_mm": s.D, "focal_length_mm": s.f, "pixel_um": round(s.px * 1000, 3), "secondary_mm": s.secondary,
        "ring_r_px": round(ring[2], 4), "ring_centre_px": number(centre), "offset_px": number([shadow[0] - ring[0], shadow[1] - ring[1]]),
        "tolerance_px": round(tolerance_mm(s.F, s.eps) / s.px, 4), "shadow_r_px": round(shadow[2], 4),
        "shadow_nominal_px": round(s.eps * s.R, 4),
        "offset_sum_px": number(sum_px), "coma_px": number(s.coma / s.px), "silhouette_px": number(s.silhouette / s.px),
        "defocus_mm": round(s.z, 4), "fresnel_number": round(s.N, 2), "seed": seed, "note": {**s.note, **note}}


def main():
    p = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    p.add_argument("--out", required=True)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--kind", nargs="*", choices=KINDS, default=KINDS[:-1])
    p.add_argument("--count", type=int, default=10)
    a = p.parse_args()
    os.makedirs(a.out, exist_ok=True)
    path = os.path.join(a.out, "truth.json")
    truth = [t for t in (json.load(open(path)) if os.path.exists(path) else []) if t["kind"] not in a.kind]
    for kind in a.kind:
        for i in range(a.count):
            frame, t = draw(kind, i, a.count, a.seed)
            name = f"{kind}-{i:02d}.png"
            Image.fromarray(frame).save(os.path.join(a.out, name), compress_level=1)
            truth.append({"file": name, **t})
        with open(path, "w") as f:
            json.dump(truth, f, indent=1)


if __name__ == "__main__":
    main()
