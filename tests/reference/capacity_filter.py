"""A small numpy filter of the same shape as the capacity model (one ability, quadrature, simplified Q): to compare against,
not to port.

State of one ability of one athlete: [level, slope, day, rung offset 1..R]  (log-reps)
eta(rung, set) = level + day + offset_r - difficulty_r - fatigue * work_done_in_session
P(capacity >= k) = 1/(1+exp(-(eta - ln k)/s))
"""
import numpy as np
from math import log, exp

GH_X, GH_W = np.polynomial.hermite_e.hermegauss(24)
GH_W = GH_W / GH_W.sum()

def sig(x):
    return 0.5 * (1 + np.tanh(0.5 * x))

class P:  # hyperparameters
    s = 0.10          # logistic scale, log reps
    tau_day = 0.10    # sd of a day's form
    q_level = 0.012   # sd of level per sqrt(day)
    q_slope = 0.0015  # sd of slope per sqrt(day)
    tau_slope = 60.   # days, mean reversion of the slope
    slope0 = 0.008    # prior mean slope per day
    sd_slope0 = 0.006
    sd_level0 = 1.0
    level0 = 0.0
    tau_off = 0.20    # sd of an athlete's own rung offset
    fatigue = 0.06    # per hard set done
    grace = 10.
    detrain = 0.004   # log reps per day idle beyond grace

class Filter:
    def __init__(self, b, p=P):
        self.b = np.asarray(b, float); self.p = p; R = len(b)
        self.m = np.zeros(3 + R); self.m[0] = p.level0; self.m[1] = p.slope0
        self.C = np.diag([p.sd_level0**2, p.sd_slope0**2, p.tau_day**2] + [p.tau_off**2] * R)
        self.t = None; self.work = 0.0; self.logz = 0.0; self.n = 0

    def advance(self, t):
        p = self.p
        if self.t is not None and t == self.t: return
        d = 0.0 if self.t is None else t - self.t
        m, C = self.m, self.C
        if d > 0:
            a = exp(-d / p.tau_slope); g = p.tau_slope * (1 - a)
            idle = max(0.0, d - p.grace)
            m[0] += g * m[1] - p.detrain * idle; m[1] *= a
            # F = [[1,g],[0,a]]
            C[0, :] += g * C[1, :]; C[:, 0] += g * C[:, 1]
            C[1, :] *= a; C[:, 1] *= a
            C[0, 0] += p.q_level**2 * d; C[1, 1] += p.q_slope**2 * d
        m[2] = 0; C[2, :] = 0; C[:, 2] = 0; C[2, 2] = p.tau_day**2
        self.t = t; self.work = 0.0

    def eta(self, r):
        m, C = self.m, self.C; j = 3 + r
        mu = m[0] + m[2] + m[j] - self.b[r] - self.p.fatigue * self.work
        h = [0, 2, j]
        v = C[np.ix_(h, h)].sum()
        return mu, v

    def p_ge(self, r, ks):
        mu, v = self.eta(r)
        e = mu + np.sqrt(v) * GH_X
        ks = np.asarray(ks, float)
        return (GH_W[None, :] * sig((e[None, :] - np.log(ks)[:, None]) / self.p.s)).sum(1)

    def lik(self, e, k, failed, rir=None):
        s = self.p.s
        lo = np.ones_like(e) if k == 0 else sig((e - log(k)) / s)
        if failed:
            hi = sig((e - log(k + 1)) / s)
            return np.maximum(lo - hi, 1e-300)
        return lo

    def observe(self, r, k, failed, hard=1.0):
        mu, v = self.eta(r); sd = np.sqrt(v)
        # mode-centred quadrature (log-concave)
        e0 = mu
        grid = mu + sd * GH_X
        L = self.lik(grid, k, failed)
        Z = (GH_W * L).sum()
        if True:  # adaptive: recentre at the posterior found, twice
            m1, s1 = mu, sd
            for _ in range(3):
                x = m1 + s1 * GH_X
                w = GH_W * np.exp(0.5 * GH_X**2 - 0.5 * ((x - mu) / sd)**2) * (s1 / sd) * self.lik(x, k, failed)
                Z = w.sum()
                if Z < 1e-290: break
                m2 = (w * x).sum() / Z; v2 = (w * (x - m2)**2).sum() / Z
                m1, s1 = m2, np.sqrt(max(v2, 1e-8))
        m_new, v_new = m1, s1**2
        self.logz += np.log(max(Z, 1e-300)); self.n += 1
        j = 3 + r
        Ph = self.C[:, 0] + self.C[:, 2] + self.C[:, j]
        K = Ph / v
        self.m += K * (m_new - mu)
        self.C -= np.outer(K, K) * (v - v_new)
        self.work += hard
        return Z
