#!/usr/bin/env python3
"""score.py BIN DIR [-v] [--told] [KIND ...]: halocue's measure against the frames of draw.py. The secondary is given only with --told.

An error counts in tolerances (1/13.4 wave RMS of coma) or in quarters of the true offset where that is larger. Needs only Python 3."""
import json
import math
import os
import subprocess
import sys

RMS = dict(sizes=0.03, figure=0.06, far=0.10, oval=0.12, coat=0.15, edge=0.15)  # asked for; the rest is held by sigma alone
Z_RMS, Z_WORST, SHADOW = 2.0, 5.0, 5.0  # error over claimed sigma; shadow's radius in per cent


def measure(binary, folder, c, told):
    k = [binary, "measure", "--aperture-mm", str(c["aperture_mm"]), "--focal-length-mm", str(c["focal_length_mm"]),
         "--pixel-um", str(c["pixel_um"]), "--json"] + (["--secondary-mm", str(c["secondary_mm"])] if told else [])
    p = subprocess.run(k + [os.path.join(folder, c["file"])], capture_output=True, text=True, timeout=120)
    lines = [json.loads(s) for s in p.stdout.splitlines() if s.startswith("{")]
    return lines[-1] if lines else {"found": False, "why": p.stderr.strip()[-80:]}


def judge(c, r):
    t = c["offset_px"]
    dx, dy = r["offset_px"]["x"] - t[0], r["offset_px"]["y"] - t[1]
    s = r["sigma_px"]
    z = math.hypot(dx / max(s["x"], 1e-9), dy / max(s["y"], 1e-9)) / math.sqrt(2)
    got, low, high = r["shadow"]["radius"], *sorted((c["shadow_r_px"], c["shadow_nominal_px"]))
    off = 100 * (got / min(max(got, low), high) - 1)  # either the outline as the wavefront bends it or secondary x ring will do
    return math.hypot(dx, dy) / max(c["tolerance_px"], math.hypot(*t) / 4), z, off


def rms(v):
    return math.sqrt(sum(x * x for x in v) / len(v)) if v else float("nan")


def main():
    args, told, wordy = [a for a in sys.argv[1:] if not a.startswith("-")], "--told" in sys.argv, "-v" in sys.argv
    if len(args) < 2:
        sys.exit(__doc__)
    binary, folder, only = os.path.abspath(args[0]), args[1], args[2:]
    with open(os.path.join(folder, "truth.json")) as f:
        cases = [c for c in json.load(f) if not only or c["kind"] in only]
    short = False
    print("kind      found    rms   worst  (limit)   z rms  worst   shadow % rms  worst")
    for kind in dict.fromkeys(c["kind"] for c in cases):
        got, missed = [], []
        for c in (c for c in cases if c["kind"] == kind):
            r = measure(binary, folder, c, told)
            if not r.get("found"):
                missed.append(f"{c['file']} {r.get('why')}")
                continue
            got.append(judge(c, r))
            if wordy:
                e, z, q = got[-1]
                print(f"  {c['file']:14s} N {c['fresnel_number']:5.1f} R {c['ring_r_px']:5.1f} secondary {c['secondary_mm'] / c['aperture_mm']:.2f} offset "
                      f"{math.hypot(*c['offset_px']):5.2f} ({math.hypot(*c['offset_px']) / c['tolerance_px']:.1f} tol)  off by {e:.3f}, {z:.1f} sigma, shadow {q:+.1f} %  {c['note']}")
        e, z, q = [[g[i] for g in got] for i in range(3)]
        worst = [max(map(abs, v), default=float("nan")) for v in (e, z, q)]
        bad = [w for w, ok in (("missed", not missed), ("error", kind not in RMS or rms(e) <= RMS[kind]), ("sigma", rms(z) <= Z_RMS and worst[1] <= Z_WORST),
                               ("shadow", worst[2] <= SHADOW)) if not ok]
        short |= bool(bad)
        print(f"{kind:9s} {len(got):2d}/{len(got) + len(missed):<2d} {rms(e):7.3f} {worst[0]:7.3f}  {RMS.get(kind, '-'):>6}  {rms(z):7.2f} {worst[1]:6.1f}  {rms(q):10.2f} {worst[2]:10.1f}   "
              f"{'SHORT: ' + ', '.join(bad) if bad else 'ok'}  {'; '.join(missed[:3])}{' ...' if len(missed) > 3 else ''}")
    print("faults:", "falls short" if short else "within limits")
    sys.exit(short)


if __name__ == "__main__":
    main()
