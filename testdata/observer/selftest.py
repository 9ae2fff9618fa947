"""The observer's own geometry against the reference numbers (reference sections 4 and 14), before it judges anyone else."""
import math
import time

import numpy as np

import floor
import night
import render


def edges(img, cx, cy, R, eps, level=0.25):
    """Shadow centre minus ring centre, pixels: crossings of level x the brightness along each radius, two circles."""
    t = np.linspace(0, 2 * math.pi, 360, endpoint=False)
    pts = [[], []]
    for a in t:
        r = np.arange(0, 1.25 * R, 0.1)
        x, y = cx + r * np.cos(a), cy + r * np.sin(a)
        i, j = np.floor(x).astype(int), np.floor(y).astype(int)
        fx, fy = x - i, y - j
        p = (img[j, i] * (1 - fx) * (1 - fy) + img[j, i + 1] * fx * (1 - fy) + img[j + 1, i] * (1 - fx) * fy
             + img[j + 1, i + 1] * fx * fy)
        lit = (r > R * (eps + 0.2)) & (r < 0.85 * R)
        cut = level * p[lit].mean()
        mid = int(np.argmin(np.abs(r - R * (1 + eps) / 2)))
        for k, step in ((mid, 1), (mid, -1)):
            while 0 < k < r.size - 1 and p[k] > cut:
                k += step
            q = r[k - step] + (r[k] - r[k - step]) * (p[k - step] - cut) / (p[k - step] - p[k])
            pts[step < 0].append((cx + q * math.cos(a), cy + q * math.sin(a)))
    centres = []
    for P in pts:
        P = np.array(P)
        s = np.linalg.lstsq(np.c_[2 * P, np.ones(len(P))], (P ** 2).sum(1), rcond=None)[0]
        centres.append((s[0], s[1], math.sqrt(s[2] + s[0] ** 2 + s[1] ** 2)))
    (ox, oy, ro), (ix, iy, _) = centres
    return np.array([ix - ox, iy - oy]), ro


def offset_um(F, z, h=(0, 0), c=(0, 0), f=1000.0, eps=0.25):
    """Measured offset in um for a plain telescope, no vanes, no air."""
    star = render.Star(f / F, F, eps * f / F, [], 0.005)
    patch, x0, y0 = star.image(z, np.array(h, float), np.array(c, float), None, 0.004)
    R = abs(z) / (2 * F * 0.005)
    cx, cy = np.array(h) * 3 / (16 * F ** 2) / 0.005 - (x0, y0)
    d, ro = edges(patch, cx, cy, R, eps)
    return d * 5, ro / R


def run():
    bad = 0

    def check(name, got, want, tol, source):
        nonlocal bad
        ok = bool(np.all(np.abs(np.asarray(got) - np.asarray(want)) <= tol))
        bad += not ok
        print("%s  %-52s got %s want %s +- %.3g  (%s)" % ("ok  " if ok else "FAIL", name, np.round(got, 4),
                                                         np.round(want, 4), tol, source))

    for F, h, z in ((5, 1, 5), (5, 1, -5), (5, 3, 5), (5, 3, -5), (4, 1, 5), (4, 1, -5), (8, 3, 10), (8, 3, -10)):
        K = 1e3 * 3 * (1 - 0.0625) * h / (16 * F * F)
        d, _ = offset_um(F, z, (h, 0))
        check("offset um, F/%d h=%g z=%+g" % (F, h, z), d, (-K, 0), 0.06 * K, "14.2: toward the axis point, both sides; 14.3")
    for z in (-5, -4, 4, 5):
        d, _ = offset_um(5, z, c=(0, 2))
        check("silhouette 2 mm, z=%+g" % z, d, (0, -z * 2), 0.35, "14.4: -z c / f")
    for z, want in ((-5, 3.00), (5, -17.11)):
        d, _ = offset_um(5, z, (1, 0), (2, 0))
        check("h = 1 and c = 2, z=%+g" % z, d, (want, 0), 0.6, "14.4")
    _, ratio = offset_um(5, 5)
    check("ring radius / (|z| / 2F)", ratio, 1.0, 0.03, "section 6")
    c = render.noll_covariance(range(2, 12))
    check("Noll variances, tilt defocus coma spherical", [c[0, 0], c[2, 2], c[6, 6], c[9, 9]],
          [0.4489, 0.02322, 0.00619, 0.00245], 0.0002, "section 4")
    check("Noll sum 8..11", np.trace(c[6:10, 6:10]), 0.0588 - 0.0378 + 0.0, 0.0025, "section 4, residuals 7 and 11")
    air = render.Air(5.0, 0.0, np.random.default_rng(1))
    coma = np.array([air.next()[5:7] for _ in range(4000)])
    check("drawn coma variance, D/r0 = 5", coma.var(), 0.00619 * 5 ** (5 / 3), 0.004, "section 4")
    u, v = np.meshgrid(np.linspace(-1, 1, 301), np.linspace(-1, 1, 301))
    disc = u * u + v * v < 1
    gram = np.array([[(render.zernike(i, u, v) * render.zernike(j, u, v))[disc].mean() for j in (4, 7, 8, 11)] for i in (4, 7, 8, 11)])
    check("Zernikes orthonormal", gram, np.eye(4), 0.05, "Noll 1976")
    kinematics(check)
    for size in ((960, 720), (1280, 960)):
        check("a coach who knows the truth aligns every night", floor.run(100, size)[:, 3].max(), 0, 1, "hands and knobs agree")
    speed()
    print("selftest: %s" % ("all right" if not bad else "%d FAILED" % bad))
    return bad


def kinematics(check):
    n = night.Night(1, (960, 720))
    n.D, n.F, n.f = 200.0, 5.0, 1000.0
    n.pitch, n.circle, n.sign, n.gain, n.backlash, n.locks = 0.25, 80.0, 1, [1, 1, 1], [0, 0, 0], False
    n.clocks = [12, 4, 8]
    tube = night.Tube(n)
    a, s = tube.a.copy(), tube.s.copy()
    tube.turn(0, 1.0)
    check("one turn of 0.25 mm at 12 o'clock: star, axis mm", np.r_[tube.s - s, tube.a - a],
          [0, -4.16666, 0, -2.08333], 1e-3, "14.1: away from the screw moved forward")
    tube.turn(1, 1.0)
    tube.turn(2, 1.0)
    check("all three together tilt nothing", tube.a, a, 1e-9, "14.1")
    tube.x_sec, tube.a, tube.s, tube.dist = np.array([2.0, 0]), np.array([1.0, 0]), np.array([0.0, 3.0]), 800.0
    check("silhouette", tube.silhouette(), [2 - 0.8 * 2, 0.8 * 3], 1e-9, "14.4")


def speed():
    n = night.Night(5, (960, 720))
    tube, t0, size = night.Tube(n), time.perf_counter(), 0
    for _ in range(40):
        size += len(tube.picture(0.0))
    print("      %.1f ms and %.0f kB a frame" % ((time.perf_counter() - t0) / 40 * 1e3, size / 40e3))
