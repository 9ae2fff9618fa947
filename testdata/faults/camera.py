"""What the camera makes of the light: photons, read noise, and the faults of cameras and of the programs that save frames.

A frame is in parts of full scale until it is written. Sizes of the faults are guesses at what is met unless a source is named.
"""
import io

import numpy as np
from PIL import Image


def shifted(x, reach):
    """x moved by every step of a square of 2 reach + 1, the border repeated."""
    p = np.pad(x, reach, mode="edge")
    for j in range(2 * reach + 1):
        for i in range(2 * reach + 1):
            yield p[j:j + x.shape[0], i:i + x.shape[1]], j - reach, i - reach


def gauss(x, sigma):
    n = int(3 * sigma + 1)
    k = np.exp(-0.5 * (np.arange(-n, n + 1) / sigma) ** 2)
    for _ in range(2):
        p = np.pad(x, ((n, n), (0, 0)), mode="edge")
        x = sum(w * p[i:i + x.shape[0]] for i, w in enumerate(k / k.sum())).T
    return x


def gamma(x, c, rng):
    return np.clip(x, 0, 1) ** (1 / 2.2), {}


def clipped(x, c, rng):
    """All of the black and the sky taken off, and 3 to 15 % of the ring's brightness with it."""
    cut = rng.uniform(0.03, 0.15)
    return np.clip(x - c["black"] - c["level"] * (c["sky"] + cut), 0, 1), {"cut": cut}


def sharpen(x, c, rng):
    """Unsharp mask."""
    radius, amount = rng.uniform(1, 2), rng.uniform(0.5, 1.5)
    return x + amount * (x - gauss(x, radius)), {"radius": radius, "amount": amount}


def denoise(x, c, rng):
    if rng.random() < 0.5:
        return np.median(np.stack([s for s, _, _ in shifted(x, 1)]), axis=0), {"by": "median"}
    width = 3 * np.sqrt(c["level"] ** 2 / c["electrons"])  # neighbours within three times the photons' noise count
    total, weight = 0, 0
    for s, j, i in shifted(x, 2):
        w = np.exp(-(i * i + j * j) / 4.5 - 0.5 * ((s - x) / width) ** 2)
        total, weight = total + w * s, weight + w
    return total / weight, {"by": "bilateral"}


def bayer(x, c, rng):
    """RGGB read as grey: the same light in all colours, the gains unequal. Noise comes before the gain."""
    red, blue = rng.uniform(0.5, 0.8), rng.uniform(0.6, 0.95)
    g = np.ones_like(x)
    g[::2, ::2], g[1::2, 1::2] = red, blue
    return c["black"] + (x - c["black"]) * g, {"red": red, "blue": blue}


def rows(x, c, rng):
    """Every row off by 1 to 3 % of the ring's brightness, and the amplifier's glow in a corner, 10 to 40 % of it."""
    h, w = x.shape
    row, glow, reach = rng.uniform(0.01, 0.03), rng.uniform(0.1, 0.4), rng.uniform(0.15, 0.35) * w
    y, xx = np.mgrid[:h, :w]
    right, low = rng.integers(2), rng.integers(2)
    d = np.hypot(abs(xx - right * (w - 1)), abs(y - low * (h - 1)))
    return x + c["level"] * (row * rng.standard_normal((h, 1)) + glow * np.exp(-d / reach)), {"row": row, "glow": glow}


def jpeg(x, c, rng):
    """Hard: quality 30 to 40. Kept as a PNG of what the JPEG decodes to."""
    q, f = int(rng.integers(30, 41)), io.BytesIO()
    Image.fromarray(np.clip(np.round(x * 255), 0, 255).astype(np.uint8)).save(f, "JPEG", quality=q)
    return np.asarray(Image.open(f), float) / 255, {"quality": q}


FAULTS = {f.__name__: f for f in (gamma, clipped, sharpen, denoise, bayer, rows, jpeg)}
EIGHT = ("gamma", "jpeg")  # always written with 8 bits; of the rest every third frame


def expose(kind, light, rng):
    """An 8- or 16-bit frame of light (1: the lit mirror) and what was done to it. Bright fringes may reach full scale."""
    c = {"level": rng.uniform(0.2, 0.4), "electrons": rng.uniform(1500, 8000), "sky": rng.uniform(0.005, 0.03), "black": rng.uniform(0.01, 0.04)}
    e = rng.poisson(c["electrons"] * np.clip(light + c["sky"], 0, None)) + rng.normal(0, rng.uniform(2, 8), light.shape)
    x, note = c["black"] + e * (c["level"] / c["electrons"]), {}
    if kind in FAULTS:
        x, note = FAULTS[kind](x, c, rng)
    bits = 8 if kind in EIGHT or rng.random() < 1 / 3 else 16
    top = 2 ** bits - 1
    return np.clip(np.round(x * top), 0, top).astype(np.uint8 if bits == 8 else np.uint16), {**note, "bits": bits, "electrons": round(c["electrons"])}
