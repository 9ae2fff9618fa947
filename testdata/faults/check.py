#!/usr/bin/env python3
"""check.py: is the truth of draw.py true? Needs no program, only the frames' own light without noise.

1. Without coma and silhouette's displacement the offset is 0. 2. Coma alone: the formula d = -(3/16)(1 - eps^2) h / F^2 and the outlines'
truth agree, and edges in the picture agree with both: at a quarter of local brightness, which is what a straight edge has where rays
put it; at half, a little inside the lit part, the offset is a few per cent smaller. 3. A finer grid gives the same light."""
import math

import numpy as np

import draw


def profile(image, c, r, angles):
    x, y = c[0] + np.outer(np.cos(angles), r), c[1] + np.outer(np.sin(angles), r)
    i, j = np.floor(x).astype(int), np.floor(y).astype(int)
    a, b = x - i, y - j
    return (image[j, i] * (1 - a) + image[j, i + 1] * a) * (1 - b) + (image[j + 1, i] * (1 - a) + image[j + 1, i + 1] * a) * b


def edges(image, c, rs, r, part):
    """Circles through a part of local brightness, inside and outside; local: the median along the radius."""
    t = np.arange(360) * (2 * math.pi / 360)
    out = []
    for lo, hi, ref, rising in ((0.5 * rs, rs + 0.3 * (r - rs), (0.2, 0.5), True), (r - 0.3 * (r - rs), 1.2 * r, (0.5, 0.8), False)):
        rad = np.linspace(lo, hi, 800)
        p = profile(image, c, rad, t)
        level = np.median(profile(image, c, np.linspace(rs + ref[0] * (r - rs), rs + ref[1] * (r - rs), 100), t), axis=1)
        above = p > part * level[:, None]
        k = np.array([np.nonzero(~a)[0].max() if rising and (~a).any() else np.nonzero(a)[0].max() for a in above])
        k = np.clip(k, 0, rad.size - 2)
        at = rad[k] + (part * level - p[np.arange(360), k]) / (p[np.arange(360), k + 1] - p[np.arange(360), k]) * (rad[1] - rad[0])
        keep = np.abs(at - np.median(at)) < 0.12 * r
        out.append(draw.fit_circle(c[0] + (at * np.cos(t))[keep], c[1] + (at * np.sin(t))[keep]))
    return out


def main():
    rng = np.random.default_rng(5)
    worst = [0.0, 0.0, 0.0, 0.0]
    for i in range(8):
        s = draw.Scene("bayer", i, 8, rng)
        while s.eps ** 2 * s.N < 6 or s.R < 60:
            s = draw.Scene("bayer", i, 8, rng)
        s.vanes = []
        centre, size = np.array([319.3, 239.8]), (640, 480)
        for step in (0, 1):
            s.place(draw.turn(step * 2 * draw.tolerance_mm(s.F, s.eps), s.direction), np.zeros(2))
            ring, shadow = s.outline((0, 0), (1, 1), 0), s.outline(s.c, s.axes, 0)
            truth = np.array([shadow[0] - ring[0], shadow[1] - ring[1]])
            image = draw.on_sensor(s, draw.light(s), centre - ring[:2], size, 0.3)
            tol = draw.tolerance_mm(s.F, s.eps) / s.px
            (half_in, half_out), (inner, outer) = (edges(image, centre, s.R * s.eps, s.R, part) for part in (0.5, 0.25))
            half, got = (np.array([a[0] - b[0], a[1] - b[1]]) for a, b in ((half_in, half_out), (inner, outer)))
            if step:
                along, low = (q @ truth / (truth @ truth) for q in (half, got))
                print(f"F/{s.F:.1f} N {s.N:5.1f} secondary {s.eps:.2f} R {s.R:5.1f}: truth / formula {np.hypot(*truth) / np.hypot(*s.coma) * s.px:.4f}, half / truth {along:.3f}, quarter / truth {low:.3f}, "
                      f"ring at {outer[0] - centre[0]:+.3f} {outer[1] - centre[1]:+.3f} px, radii at a quarter {outer[2] / ring[2]:.4f} {inner[2] / shadow[2]:.4f}")
                worst[1], worst[2] = max(worst[1], abs(low - 1)), max(worst[2], abs(np.hypot(*truth) / np.hypot(*s.coma) * s.px - 1))
                if i < 3:
                    fine = draw.on_sensor(s, draw.light(s, fine=1.6), centre - ring[:2], size, 0.3)
                    worst[3] = max(worst[3], float(np.sqrt(((fine - image) ** 2).sum() / (math.pi * s.R ** 2))))
            else:
                worst[0] = max(worst[0], np.hypot(*got) / tol)
    print(f"no coma: offset {worst[0]:.5f} tolerances; edges at a quarter off by {100 * worst[1]:.1f} %; formula by {100 * worst[2]:.2f} %; "
          f"finer grid changes the ring by {worst[3]:.4f} rms of its brightness")
    assert worst[0] < 0.01 and worst[1] < 0.04 and worst[2] < 0.02 and worst[3] < 0.005


if __name__ == "__main__":
    main()
