"""A defocused star as a camera sees it: scalar diffraction, the air, photons, JPEG.

Axes are the sensor's, mm unless said; wavefronts W in mm of path; pupil coordinate u = position on the mirror / (D/2).
A ray through u lands at star - 2 F grad W(u) with
W = z u^2 / (8 F^2) - (h.u) u^2 / (32 F^3) + (u.h)^2 / (8 f F^2) + air.  The third term is a paraboloid's astigmatism: its
sagittal focus lies in the flat focal plane, the tangential one h^2 / f nearer the mirror (Coddington's equations, from memory).
The defocus integral is a Fresnel convolution in reduced coordinates x = -(X - star) 2F / z:
E(x) = int P(u) exp(i pi N (u - x)^2) du with N = 2 W020 / lambda, hence FFT, times exp(-i pi f^2 / N), FFT back.
"""
import io
import math

import numpy as np
from PIL import Image

LAMBDA0 = 0.00055          # mm
COLOURS = ((0.84, 0.8), (1.00, 1.0), (1.16, 0.7))  # wave number / (1/LAMBDA0), weight: 655, 550, 474 nm
GRID, RG = 216, 80         # samples across the window, samples in a ring radius
ARCSEC = math.radians(1 / 3600)


def noll_index(j):
    """n, m, parity of Noll's mode j (even j: cosine)."""
    n = 0
    while (n + 1) * (n + 2) // 2 < j:
        n += 1
    k = j - n * (n + 1) // 2
    m = 2 * (k // 2) if n % 2 == 0 else 2 * ((k - 1) // 2) + 1
    return n, m, (j % 2 == 0)


def zernike(j, x, y):
    n, m, cosine = noll_index(j)
    r, t = np.hypot(x, y), np.arctan2(y, x)
    radial = sum((-1) ** s * math.factorial(n - s) / (math.factorial(s) * math.factorial((n + m) // 2 - s)
                 * math.factorial((n - m) // 2 - s)) * r ** (n - 2 * s) for s in range((n - m) // 2 + 1))
    if m == 0:
        return math.sqrt(n + 1) * radial
    return math.sqrt(2 * (n + 1)) * radial * (np.cos(m * t) if cosine else np.sin(m * t))


def noll_covariance(modes):
    """Covariances of Kolmogorov phase in rad^2 for D/r0 = 1: Noll 1976 eq. 25, with Fried's exact constant
    (scaled to a coma variance of 0.00619)."""
    def raw(j, k):
        (n, m, p), (n2, m2, p2) = noll_index(j), noll_index(k)
        if m != m2 or (m and p != p2):
            return 0.0
        g = math.gamma
        return ((-1) ** ((n + n2 - 2 * m) // 2) * math.sqrt((n + 1) * (n2 + 1)) * g((n + n2 - 5 / 3) / 2)
                / (g((n - n2 + 17 / 3) / 2) * g((n2 - n + 17 / 3) / 2) * g((n + n2 + 23 / 3) / 2)))
    c = np.array([[raw(j, k) for k in modes] for j in modes])
    return c * (0.00619 / raw(8, 8))


class Air:
    """Short exposures: Noll modes 2..36, each frame correlated with the last by rho; the rest is a small blur."""
    MODES = range(2, 37)

    def __init__(self, d_over_r0, rho, rng):
        self.rng, self.rho, self.scale = rng, rho, d_over_r0 ** (5 / 6)
        self.chol = np.linalg.cholesky(noll_covariance(self.MODES))
        self.state = rng.standard_normal(len(self.MODES))
        self.rest = 0.2944 * 36 ** (-math.sqrt(3) / 2) * d_over_r0 ** (5 / 3)  # rad^2, Noll's asymptote

    def next(self):
        """Coefficients in rad at LAMBDA0, tilts first."""
        new = self.rng.standard_normal(len(self.MODES))
        self.state = self.rho * self.state + math.sqrt(1 - self.rho ** 2) * new
        return self.scale * (self.chol @ self.state)


class Star:
    """The image of one star. vanes: (angle rad, width mm) each from the secondary outwards."""

    def __init__(self, aperture, F, secondary, vanes, pixel_mm, colours=COLOURS):
        self.D, self.F, self.f, self.eps = aperture, F, aperture * F, secondary / aperture
        self.vanes, self.px, self.colours = vanes, pixel_mm, colours
        self.m = 2 * RG + 6
        ax = np.arange(self.m) - (self.m - 1) / 2
        self.u, self.v = np.meshgrid(ax / RG, ax / RG)
        self.r2 = self.u ** 2 + self.v ** 2
        self.outer = np.clip(0.5 + (1 - np.sqrt(self.r2)) * RG, 0, 1)
        self.modes = np.stack([zernike(j, self.u, self.v).ravel() for j in Air.MODES if j > 3]).astype(np.float32)
        self.freq = np.fft.fftfreq(GRID) * RG
        self.mask_at, self.mask = None, None
        k = np.arange(30000) + 0.5  # sunflower of rays, for the blob near focus
        r, t = np.sqrt(k / k.size), k * 2.399963
        self.rays = np.stack([r * np.cos(t), r * np.sin(t)])

    def pupil(self, c):
        """Transmission with the silhouette displaced by c mm on the mirror."""
        key = np.round(np.asarray(c) / (self.D / 2) * 4000)
        if self.mask_at is None or (key != self.mask_at).any():
            cu, cv = key / 4000
            du, dv = self.u - cu, self.v - cv
            mask = self.outer * np.clip(0.5 + (np.hypot(du, dv) - self.eps) * RG, 0, 1)
            for angle, width in self.vanes:
                along = du * math.cos(angle) + dv * math.sin(angle)
                across = np.abs(dv * math.cos(angle) - du * math.sin(angle))
                half = width / self.D
                grey = np.clip(0.5 + (across - half) * RG, 1 - min(1, 2 * half * RG), 1)
                mask = mask * np.where(along > 0, grey, 1)
            self.mask_at, self.mask = key, mask
        return self.mask

    def image(self, z, h, c, air=None, blur_mm=0.002):
        """Window of the intensity: returns (patch, x0, y0), patch[j, i] being the light in the pixel (x0 + i, y0 + j)
        of a sensor whose pixel (0, 0) is centred on the star; the sum is the ring's area in pixels."""
        h = np.asarray(h, float)
        tilt = np.zeros(2)
        if air is not None:
            tilt = -2 * self.F * 2 * np.array([air[0], air[1]]) * LAMBDA0 / (2 * math.pi)
        R = abs(z) / (2 * self.F * self.px)
        if R < 25:
            return self.blob(z, h, c, tilt, blur_mm + (0 if air is None else 0.004))
        w = (-(h[0] * self.u + h[1] * self.v) * (self.r2 - 3) / (32 * self.F ** 3)
             + (h[0] * self.u + h[1] * self.v) ** 2 / (8 * self.f * self.F ** 2))
        shift = (3 * h / (16 * self.F ** 2) + tilt) / self.px  # the outline's own displacement, taken out of w
        if air is not None:
            w = w + (air[2:].astype(np.float32) @ self.modes).reshape(w.shape) * (LAMBDA0 / (2 * math.pi))
        light = self.fresnel(z, w, self.pupil(c))
        half = math.ceil(1.3 * R)
        base = np.round(shift)
        pix = np.arange(-half, half + 1)
        sign = -1 if z > 0 else 1
        pos = sign * R * (np.arange(GRID) - (GRID - 1) / 2) / RG
        for s in (shift - base)[::-1]:  # rows to y, then columns to x
            light = self.spread(light, pix, pos + s, R / RG, blur_mm / self.px).T
        return light * (R / RG) ** 2, int(base[0]) - half, int(base[1]) - half

    def fresnel(self, z, w, mask):
        wave = (2 * math.pi / LAMBDA0 * w).astype(np.float32)

        def ripple(k):
            out = np.empty(w.shape, complex)
            out.real, out.imag = np.cos(k * wave), np.sin(k * wave)
            return out
        light, total = np.zeros((GRID, GRID)), sum(wt for _, wt in self.colours)
        o = (GRID - self.m) // 2
        for k, weight in self.colours:
            field = np.zeros((GRID, GRID), complex)
            field[o:o + self.m, o:o + self.m] = mask * ripple(np.float32(k))
            one = np.exp(-1j * math.pi * self.freq ** 2 / (2 * z / (8 * self.F ** 2) * k / LAMBDA0))
            field = np.fft.fft2(field)
            field *= one[:, None]
            field *= one[None, :]
            field = np.fft.ifft2(field)
            light += (weight / total) * (field.real ** 2 + field.imag ** 2)
        return light

    @staticmethod
    def spread(light, pix, pos, cell, blur):
        """Rows of light, cells of width cell at pos and blurred, shared out among the pixels; all in pixels."""
        reach = 0.5 + cell / 2 + 3.5 * blur
        d = np.linspace(-reach - 0.1, reach + 0.1, 400)
        flat, edge = abs(cell - 1) / 2, (cell + 1) / 2
        box = np.clip((edge - np.abs(d)) / max(edge - flat, 1e-9), 0, 1)
        g = np.exp(-0.5 * (d / max(blur, 1e-3)) ** 2)
        k = np.convolve(box, g / g.sum(), "same")
        k /= k.sum() * (d[1] - d[0])
        first = (pix - pos[0]) / (pos[1] - pos[0])     # the cell at each pixel's centre, fractional
        taps = int(reach / cell) + 1
        out = np.zeros((pix.size, light.shape[1]))
        for t in range(-taps, taps + 1):
            i = np.round(first).astype(int) + t
            inside = (i >= 0) & (i < pos.size)
            i = np.clip(i, 0, pos.size - 1)
            out += (np.interp(pix - pos[i], d, k, left=0, right=0) * inside)[:, None] * light[i]
        return out

    def blob(self, z, h, c, tilt, blur_mm):
        """Geometric rays near focus, where a ring is no ring; nothing is measured there."""
        u = self.rays
        keep = np.hypot(u[0] - c[0] / (self.D / 2), u[1] - c[1] / (self.D / 2)) > self.eps
        u = u[:, keep]
        r2 = (u ** 2).sum(0)
        X = -(z / (2 * self.F)) * u + (h[:, None] * r2 + 2 * (h @ u) * u) / (16 * self.F ** 2) + tilt[:, None]
        X += np.random.default_rng(1).normal(0, blur_mm, X.shape)
        base = np.round(X.mean(1) / self.px)
        half = 60
        i = np.clip(np.round(X / self.px - base[:, None]).astype(int) + half, 0, 2 * half)
        patch = np.bincount(i[1] * (2 * half + 1) + i[0], minlength=(2 * half + 1) ** 2).astype(float)
        area = math.pi * max(25.0, 1) ** 2
        return patch.reshape(2 * half + 1, -1) * area / patch.sum(), int(base[0]) - half, int(base[1]) - half


class Camera:
    """8-bit grey frames. level: counts of the lit ring at radius r_ref pixels; electrons: per count."""

    def __init__(self, size, level, r_ref, electrons, sky, gradient, auto, rng, quality=92):
        self.w, self.h = size
        self.flux, self.e, self.sky, self.auto, self.level = level * r_ref ** 2, electrons, sky, auto, level
        self.rng, self.quality, self.gain = rng, quality, 1.0
        gx, gy = gradient
        ramp = sky + gx * np.linspace(-1, 1, self.w)[None, :] + gy * np.linspace(-1, 1, self.h)[:, None]
        self.ramp = np.clip(ramp, 0, None)
        self.hot = [(int(rng.integers(self.h)), int(rng.integers(self.w)), int(rng.integers(30, 200))) for _ in range(15)]
        self.back = [self.noisy(self.ramp) for _ in range(8)]
        for b in self.back:
            for y, x, v in self.hot:
                b[y, x] = v

    def noisy(self, mean):
        x = mean + np.sqrt(mean / self.e + 0.36) * self.rng.standard_normal(mean.shape, dtype=np.float32)
        return np.clip(np.round(x), 0, 255).astype(np.uint8)

    def frame(self, star_px, R, patch, x0, y0, twinkle):
        """A frame with the patch placed about star_px = (x, y); None for a star out of sight."""
        out = self.back[self.rng.integers(len(self.back))].copy()
        if patch is not None:
            peak = self.flux / max(R, 25.0) ** 2
            if self.auto:
                self.gain += 0.2 * (min(3.0, max(0.2, self.level / peak)) - self.gain)
            X, Y = int(round(star_px[0])) + x0, int(round(star_px[1])) + y0
            a, b = max(0, X), min(self.w, X + patch.shape[1])
            c, d = max(0, Y), min(self.h, Y + patch.shape[0])
            if a < b and c < d:
                p = patch[c - Y:d - Y, a - X:b - X] * (peak * self.gain * twinkle)
                out[c:d, a:b] = self.noisy(p + self.ramp[c:d, a:b])
        return out

    def jpeg(self, frame):
        f = io.BytesIO()
        Image.fromarray(frame).save(f, "JPEG", quality=self.quality)
        return f.getvalue()
