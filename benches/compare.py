#!/usr/bin/env python3
"""The proof's problems, solved by what one would write in Python instead: run by `cargo bench --bench proof`.

numpy: the Kubelka-Munk model over 4,096 recipes at once, ns a recipe. scipy: differential evolution with integrality
on the same model, time and how far it stays from the proven best. Only the two-flux model is written out here.
"""
import json
import sys
import time

try:
    import numpy as np
    from scipy.optimize import differential_evolution
except ImportError as missing:
    print(f"\nno comparison with numpy and scipy: {missing}")
    sys.exit(0)

J = json.load(open(sys.argv[1]))
K0, S0, RG = (np.array(J[name]) for name in ("k", "s", "backing"))
KP = np.array([p["k"] for p in J["pigments"]])
SP = np.array([p["s"] for p in J["pigments"]])
DROP = np.array([p["drop_g"] for p in J["pigments"]])
W = np.array(J["factors"]).T / np.array(J["white"])


def lab(counts):
    """CIELAB of recipes (rows of drop counts)."""
    n = counts.shape[-1]
    grams = counts * DROP[:n]
    mass = J["base_g"] + grams.sum(-1, keepdims=True)
    k = (J["base_g"] * K0 + grams @ KP[:n]) / mass
    s = (J["base_g"] * S0 + grams @ SP[:n]) / mass
    g = np.sqrt(np.maximum(k * (k + 2 * s), 1e-12))
    e = np.exp(-2 * J["thickness_mm"] * g)
    c, h = (1 + e) * g, 1 - e
    r = (RG * c + h * (s - RG * (k + s))) / (c + h * ((k + s) - RG * s))
    r = J["k1"] + (1 - J["k1"]) * (1 - J["k2"]) * r / (1 - J["k2"] * r)
    t = r @ W
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t * 841 / 108 + 4 / 29)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def ciede2000(p, q):
    """Sharma, Wu, Dalal (2005)."""
    (l1, a1, b1), (l2, a2, b2) = (np.moveaxis(np.asarray(x, float), -1, 0) for x in (p, q))
    c = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    g = 0.5 * (1 - np.sqrt(c**7 / (c**7 + 25.0**7)))
    a1, a2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    dh = h2 - h1
    dh = np.where(dh > 180, dh - 360, np.where(dh < -180, dh + 360, dh))
    hm = np.where(np.abs(h1 - h2) <= 180, (h1 + h2) / 2, np.where(h1 + h2 < 360, (h1 + h2) / 2 + 180, (h1 + h2) / 2 - 180))
    dl, dc, d_h = l2 - l1, c2 - c1, 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    lm, cm = (l1 + l2) / 2, (c1 + c2) / 2
    cos = lambda x: np.cos(np.radians(x))
    t = 1 - 0.17 * cos(hm - 30) + 0.24 * cos(2 * hm) + 0.32 * cos(3 * hm + 6) - 0.2 * cos(4 * hm - 63)
    rt = -2 * np.sqrt(cm**7 / (cm**7 + 25.0**7)) * np.sin(np.radians(60 * np.exp(-(((hm - 275) / 25) ** 2))))
    sl, sc, sh = 1 + 0.015 * (lm - 50) ** 2 / np.sqrt(20 + (lm - 50) ** 2), 1 + 0.045 * cm, 1 + 0.015 * cm * t
    return np.sqrt(np.maximum((dl / sl) ** 2 + (dc / sc) ** 2 + (d_h / sh) ** 2 + rt * (dc / sc) * (d_h / sh), 0))


rng = np.random.default_rng(1976)
recipes = rng.integers(0, 8, (4096, len(DROP))).astype(float)
aim = np.array([62.0, 12.0, 16.0])
best = np.inf
for _ in range(40):
    begun = time.perf_counter()
    ciede2000(aim, lab(recipes))
    best = min(best, time.perf_counter() - begun)
print(f"  numpy, 4,096 recipes at once                {1e9 * best / len(recipes):>7.0f}")

print("\nscipy's differential evolution with integrality, one thread, seed 1976, same model and limits by penalty")
print("n   median s    worst s   finds the best   mean gap   worst gap   (ΔE00)    dropwise, one core, median s")
for n in sorted({p["n"] for p in J["problems"]}):
    times, gaps, ours = [], [], []
    for p in (p for p in J["problems"] if p["n"] == n):

        def cost(x):
            counts = np.rint(x.T)
            over = np.maximum(counts.sum(-1) - 60, 0) + 10 * np.maximum((counts > 0).sum(-1) - 4, 0)
            return ciede2000(p["lab"], lab(counts)) + over

        begun = time.perf_counter()
        found = differential_evolution(
            cost, [(0, 40)] * n, integrality=np.ones(n, bool), rng=1976, vectorized=True, updating="deferred", polish=False
        )
        times.append(time.perf_counter() - begun)
        gaps.append(float(found.fun) - p["delta_e"])
        ours.append(p["seconds"])
    gaps = np.array(gaps)
    print(
        f"{n}   {np.median(times):>8.3f}   {max(times):>8.3f}   {(gaps < 1e-6).sum():>10}/{len(gaps)}"
        f"   {gaps.mean():>10.3f}  {gaps.max():>10.3f}   {np.median(ours):>31.3f}"
    )
    if gaps.min() < -1e-6:
        sys.exit(f"scipy found a better recipe than the proven best, by {-gaps.min():.6f}")
