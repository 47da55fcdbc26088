"""Reference values for the numeric kernel, by arbitrary-precision arithmetic and brute-force quadrature.

Run with Python 3.11, mpmath 1.4.1 and numpy 2.4.6; writes normal.json, truncated.json, update.json, dynamics.json and
report.json beside itself. Nothing here shares a formula with the Rust code beyond the definitions.
"""

import json
import pathlib
import random

import mpmath as mp
import numpy as np

HERE = pathlib.Path(__file__).parent
mp.mp.dps = 60


def save(name, rows):
    (HERE / name).write_text("[\n" + ",\n".join(json.dumps(row) for row in rows) + "\n]\n")


def end(x):
    """An interval end for JSON: null is infinite."""
    return None if mp.isinf(x) else float(x)


def normal():
    """The arguments are exact doubles; the values are the nearest doubles to the true ones."""
    points = [0.0, 0.46875, 4.0, 1e-300, 1e-8]
    points += list(np.linspace(-8, 8, 401)) + list(np.geomspace(1e-6, 40, 200)) + list(np.geomspace(40, 1e9, 40))
    points += [-x for x in np.geomspace(1e-6, 26, 150)]
    rows = []
    for x in map(float, points):
        t = mp.mpf(x)
        scaled = mp.exp(t * t) * mp.erfc(t) if t < 50 else (1 - 1 / (2 * t**2) + 3 / (4 * t**4) - 15 / (8 * t**6)
            + 105 / (16 * t**8) - 945 / (32 * t**10) + 10395 / (64 * t**12)) / (t * mp.sqrt(mp.pi))
        row = {"x": x, "erfcx": float(scaled)}
        if abs(x) <= 40:
            upper = mp.erfc(t / mp.sqrt(2)) / 2
            lower = mp.erfc(-t / mp.sqrt(2)) / 2
            row |= {"survival": float(upper), "log_distribution": float(mp.log1p(-upper) if x > 0 else mp.log(lower)),
                    "inverse_mills": float(mp.npdf(t) / lower)}
        rows.append(row)
    save("normal.json", rows)


def truncated_moments(m, v, s2, a, b):
    """Closed form at 120 digits, where its cancellations do no harm."""
    m, v, s2 = map(mp.mpf, (m, v, s2))
    total = mp.sqrt(v + s2)
    lo = (a - m) / total if not mp.isinf(a) else mp.mpf("-inf")
    hi = (b - m) / total if not mp.isinf(b) else mp.mpf("inf")
    if lo + hi > 0:
        upper = lambda z: mp.mpf(0) if mp.isinf(z) else mp.erfc(z / mp.sqrt(2)) / 2
        mass = (upper(lo) if not mp.isinf(lo) else 1) - upper(hi)
    else:
        lower = lambda z: mp.mpf(0) if mp.isinf(z) else mp.erfc(-z / mp.sqrt(2)) / 2
        mass = (lower(hi) if not mp.isinf(hi) else 1) - lower(lo)
    height = lambda z: mp.mpf(0) if mp.isinf(z) else mp.npdf(z)
    lever = lambda z: mp.mpf(0) if mp.isinf(z) else z * mp.npdf(z)
    shift = (height(lo) - height(hi)) / mass
    kept = 1 - shift**2 + (lever(lo) - lever(hi)) / mass
    return mp.log(mass), m + v / total * shift, v * (s2 + v * kept) / (v + s2)


def truncated():
    mp.mp.dps = 120
    rng = random.Random(20240611)
    rows = []

    def add(m, v, s2, a, b):
        log_mass, mean, variance = truncated_moments(m, v, s2, mp.mpf(a), mp.mpf(b))
        rows.append({"m": m, "v": v, "s2": s2, "lower": end(mp.mpf(a)), "upper": end(mp.mpf(b)),
                     "log_mass": float(log_mass), "mean": float(mean), "variance": float(variance)})

    inf = float("inf")
    for z in (0.0, 0.3, 0.66, 0.67, 2.0, 5.6, 5.7, 12.0, 29.0, 31.0, 100.0, 1000.0):
        for sign in (1.0, -1.0):
            for v, s2 in ((0.75, 0.25), (1e6, 0.01), (1e-8, 0.04), (0.04, 1e-6)):
                sd = (v + s2) ** 0.5
                add(0.0, v, s2, sign * z * sd, inf)
                add(0.0, v, s2, -inf, sign * z * sd)
                for width in (1e-6, 1e-3, 0.02, 0.04, 0.3, 1.0, 3.0, 20.0):
                    ends = sorted((sign * z * sd, sign * (z + width) * sd))
                    add(0.0, v, s2, *ends)
    for _ in range(400):
        v, s2 = 10 ** rng.uniform(-6, 4), 10 ** rng.uniform(-4, 0)
        sd = (v + s2) ** 0.5
        a = rng.gauss(0, 3) * sd
        add(rng.gauss(0, 1), v, s2, a, a + 10 ** rng.uniform(-4, 1.5) * sd)
    save("truncated.json", rows)


def update():
    """One update with normal and logistic noise by quadrature (definition only), and eight sets in a row."""
    mp.mp.dps = 40
    cases = [("fail k=4", 1.6, 0.25, 0.28, 4, 5), ("fail k=0", 1.6, 0.25, 0.28, 0, 1),
             ("stop k=5", 1.6, 0.25, 0.28, 5, None), ("stop k=12 surprise", 1.0, 0.04, 0.28, 12, None),
             ("fail k=1 surprise", 2.5, 0.04, 0.28, 1, 2), ("fail k=25", 1.6, 0.25, 0.28, 25, 26),
             ("wide prior fail k=3", 0.0, 4.0, 0.2, 3, 4)]
    rows = []
    for name, m, v, s, k, above in cases:
        a = mp.log(k) if k else mp.mpf("-inf")
        b = mp.log(above) if above else mp.mpf("inf")
        for noise in ("normal", "logistic"):
            log_mass, mean, variance = by_quadrature(*map(mp.mpf, (m, v, s)), a, b, noise)
            rows.append({"case": name, "noise": noise, "m": m, "v": v, "s": s, "k": k, "upper": above,
                         "log_mass": float(log_mass), "mean": float(mean), "variance": float(variance)})
    save("update.json", rows)


def by_quadrature(m, v, s, a, b, noise):
    if noise == "normal":
        upper = lambda z: mp.mpf(0) if z == mp.inf else mp.mpf(1) if z == -mp.inf else mp.erfc(z / mp.sqrt(2)) / 2
    else:
        upper = lambda z: mp.mpf(0) if z == mp.inf else mp.mpf(1) if z == -mp.inf else 1 / (1 + mp.exp(z))
    sd = mp.sqrt(v)

    def weight(x):
        lo = (a - x) / s if a != -mp.inf else -mp.inf
        hi = (b - x) / s if b != mp.inf else mp.inf
        inside = upper(lo) - upper(hi) if lo > 0 else upper(-hi) - upper(-lo)
        return mp.npdf(x, m, sd) * inside

    cuts = [m + j * sd for j in (-14, -6, -3, 0, 3, 6, 9, 14)] + [e for e in (a, b) if abs(e) != mp.inf]
    cuts = sorted(c for c in set(cuts) if abs(c - m) <= 14 * sd)
    mass = mp.quad(weight, cuts)
    mean = mp.quad(lambda x: x * weight(x), cuts) / mass
    return mp.log(mass), mean, mp.quad(lambda x: (x - mean) ** 2 * weight(x), cuts) / mass


def dynamics():
    """Damped trend: the noise covariance as the integral of Phi(t) diag(qL, qV) Phi(t)' dt, Phi by matrix exponential."""
    mp.mp.dps = 30
    rows = []
    for tau in (None, 1e9, 1e4, 60.0, 21.0, 3.0):
        for gap in (0.01, 1.0, 7.0, 30.0, 400.0):
            decay = mp.mpf(0) if tau is None else 1 / mp.mpf(tau)

            def phi(t):
                return mp.expm(mp.matrix([[0, 1], [0, -decay]]) * t, method="taylor" if t < 20 else "pade")

            level, slope = mp.mpf("0.0004"), mp.mpf("0.00002")
            pieces = mp.linspace(0, gap, 2 if gap < 10 else 9)
            entry = lambda f: mp.quad(f, pieces)
            p = phi(mp.mpf(gap))
            rows.append({"slope_days": tau, "days": gap, "level_noise": float(level), "slope_noise": float(slope),
                         "gain": float(p[0, 1]), "decay": float(p[1, 1]),
                         "ll": float(level * gap + slope * entry(lambda t: phi(t)[0, 1] ** 2)),
                         "lv": float(slope * entry(lambda t: phi(t)[0, 1] * phi(t)[1, 1])),
                         "vv": float(slope * entry(lambda t: phi(t)[1, 1] ** 2))})
    save("dynamics.json", rows)


def report():
    """Ability and bias after a reported limit: a plain grid over (ability, set capacity), the bias integrated exactly."""
    rows = []
    cases = [
        ([1.6, 0.1], [0.25, 0.0, 0.09], 0.1, 5, 7.5, 0.02),
        ([1.6, 0.1], [0.25, -0.05, 0.09], 0.1, 5, 7.5, 0.02),
        ([1.2, -0.2], [0.09, 0.02, 0.04], 0.28, 3, 4.5, 0.05),
        ([2.2, 0.0], [0.04, 0.0, 0.04], 0.1, 4, 5.5, 0.02),
        ([1.0, 0.1], [0.16, 0.05, 0.25], 0.15, 6, 6.5, 0.01),
        ([1.6, 0.0], [0.5, 0.0, 0.04], 0.12, 0, 2.5, 0.08),
    ]
    for mean, covariance, s, done, claimed, r2 in cases:
        for noise in ("normal", "logistic"):
            values = on_grid(mean, covariance, s, done, np.log(claimed), r2, noise)
            rows.append({"mean": mean, "covariance": covariance, "s": s, "done": done, "claimed": claimed,
                         "variance": r2, "noise": noise, **values})
    save("report.json", rows)


def on_grid(mean, covariance, s, done, y, r2, noise):
    aa, ab, bb = covariance
    sd = aa**0.5
    ability, step = np.linspace(mean[0] - 11 * sd, mean[0] + 11 * sd, 6001, retstep=True)
    prior = np.exp(-0.5 * (ability - mean[0]) ** 2 / aa) / np.sqrt(2 * np.pi * aa) * step
    bias_mean = mean[1] + ab / aa * (ability - mean[0])
    bias_variance = bb - ab * ab / aa
    low = np.log(done) if done else y - 14.0
    nodes, weights = np.polynomial.legendre.leggauss(60)
    pieces = np.linspace(low, max(y, mean[0] + 11 * sd, low) + 3.0, 41)
    capacity = np.concatenate([(p + q) / 2 + (q - p) / 2 * nodes for p, q in zip(pieces, pieces[1:])])
    share = np.concatenate([(q - p) / 2 * weights for p, q in zip(pieces, pieces[1:])])
    moments = np.zeros(6)
    for x, w, bm in zip(ability, prior, bias_mean):
        z = (capacity - x) / s
        if noise == "normal":
            density = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi) / s
        else:
            tail = np.exp(-np.abs(z))
            density = tail / (1 + tail) ** 2 / s
        spread = r2 + bias_variance
        gap = y - capacity - bm
        mass = w * share * density * np.exp(-0.5 * gap**2 / spread) / np.sqrt(2 * np.pi * spread)
        bias = bm + bias_variance / spread * gap
        left = bias_variance * r2 / spread
        moments += [mass.sum(), (mass * x).sum(), (mass * bias).sum(), (mass * x * x).sum(),
                    (mass * x * bias).sum(), (mass * (bias**2 + left)).sum()]
    z, a, b, pp, pq, qq = moments
    a, b = a / z, b / z
    return {"log_mass": float(np.log(z)), "new_mean": [a, b],
            "new_covariance": [pp / z - a * a, pq / z - a * b, qq / z - b * b]}


if __name__ == "__main__":
    normal()
    truncated()
    update()
    dynamics()
    report()
