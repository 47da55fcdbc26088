"""Reference values on nile.csv: local level and local linear trend, by a plain filter and smoother and by dense algebra.

Run with Python 3.11, numpy 2.4.6 and statsmodels 0.15.0; writes nile.json beside itself. The plain filter uses the Joseph
form and is not the code under test; statsmodels gives the exact diffuse likelihood.
"""

import json
import pathlib

import numpy as np
import statsmodels.api as sm

HERE = pathlib.Path(__file__).parent
FLOW = np.loadtxt(HERE / "nile.csv", delimiter=",", comments="#", skiprows=4)[:, 1]
NOISE, LEVEL, SLOPE = 15099.0, 1469.1, 5.0
GAPS = np.resize([0.5, 2, 1, 3, 0.25], 39)


def filtered(y, mean, cov, steps):
    """steps[i] is (F, Q) into observation i, None for the first."""
    x, p, ll, past = np.array(mean), np.array(cov), 0.0, []
    h = np.eye(len(x))[0]
    for value, step in zip(y, steps):
        if step:
            x, p = step[0] @ x, step[0] @ p @ step[0].T + step[1]
        before = (x, p)
        if np.isfinite(value):
            total, surprise = h @ p @ h + NOISE, value - x[0]
            gain = p @ h / total
            ll -= 0.5 * (np.log(2 * np.pi * total) + surprise**2 / total)
            rest = np.eye(len(x)) - np.outer(gain, h)
            x, p = x + gain * surprise, rest @ p @ rest.T + NOISE * np.outer(gain, gain)
        past.append((before, (x, p)))
    return ll, past


def smoothed(past, steps):
    out = [past[-1][1]]
    for (_, (x, p)), (before, _), step in zip(past[-2::-1], past[:0:-1], steps[:0:-1]):
        gain = p @ step[0].T @ np.linalg.inv(before[1])
        out.append((x + gain @ (out[-1][0] - before[0]), p + gain @ (out[-1][1] - before[1]) @ gain.T))
    return out[::-1]


def describe(ll, past, smooth):
    flat = lambda states: [[x.tolist(), p.tolist()] for x, p in states]
    return {"log_likelihood": ll, "filtered": flat(after for _, after in past), "smoothed": flat(smooth)}


def dense_log_likelihood(y, mean, cov, steps):
    """The joint normal of all observations at once."""
    n, d = len(y), len(mean)
    big, mu = np.zeros((n * d, n * d)), np.zeros(n * d)
    for i, step in enumerate(steps):
        here = slice(i * d, i * d + d)
        if step is None:
            big[here, here], mu[here] = cov, mean
            continue
        last = slice(i * d - d, i * d)
        big[here, : i * d] = step[0] @ big[last, : i * d]
        big[: i * d, here] = big[here, : i * d].T
        big[here, here] = step[0] @ big[last, last] @ step[0].T + step[1]
        mu[here] = step[0] @ mu[last]
    g, r = big[::d, ::d] + NOISE * np.eye(n), y - mu[::d]
    return float(-0.5 * (n * np.log(2 * np.pi) + np.linalg.slogdet(g)[1] + r @ np.linalg.solve(g, r)))


def main():
    level = [None] + [(np.eye(1), np.array([[LEVEL]]))] * 99
    gappy = FLOW.copy()
    gappy[20:40] = gappy[60:80] = np.nan
    out = {}
    for name, y in (("level", FLOW), ("level_missing", gappy)):
        ll, past = filtered(y, [1000.0], [[1e6]], level)
        out[name] = describe(ll, past, smoothed(past, level))
    model = sm.tsa.UnobservedComponents(FLOW, "llevel", use_exact_diffuse=True)
    out["exact_diffuse"] = float(model.smooth([NOISE, LEVEL]).llf)
    trend = [None] + [(np.array([[1, d], [0, 1.0]]),
                       np.array([[LEVEL * d + SLOPE * d**3 / 3, SLOPE * d * d / 2], [SLOPE * d * d / 2, SLOPE * d]]))
                      for d in GAPS]
    ll, past = filtered(FLOW[:40], [1000.0, 0.0], np.diag([1e6, 100.0]), trend)
    out["trend"] = describe(ll, past, smoothed(past, trend))
    out["trend_dense"] = dense_log_likelihood(FLOW[:40], [1000.0, 0.0], np.diag([1e6, 100.0]), trend)
    (HERE / "nile.json").write_text(json.dumps(out) + "\n")
    print(out["level"]["log_likelihood"], out["level_missing"]["log_likelihood"], out["exact_diffuse"],
          out["trend"]["log_likelihood"], out["trend_dense"])


if __name__ == "__main__":
    main()
