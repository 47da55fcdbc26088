"""What a refit of difficulties, scale and spread must find: one number a person on five yes-or-no items, and censored counts
with a difficulty of its own for each rung."""
import json

import numpy as np
import scipy
from numpy.polynomial.hermite_e import hermegauss
from scipy.optimize import minimize
from scipy.special import expit

out = {"numpy": np.__version__, "scipy": scipy.__version__}


def top(negative, start):
    """The minimum by two searches, the second from where the first stopped."""
    first = minimize(negative, start, method="BFGS", options=dict(gtol=1e-9))
    fine = dict(xatol=1e-10, fatol=1e-13, maxiter=40000, maxfev=40000, adaptive=True)
    return minimize(negative, first.x, method="Nelder-Mead", options=fine)


# Rasch with a free spread: logit P(item j) = level - b_j, level ~ N(0, sd^2); 61 nodes of Gauss and Hermite.
answers = np.loadtxt("lsat6.csv", delimiter=",", skiprows=1)
z, w = hermegauss(61)
w = w / w.sum()


def rasch(x):
    p = expit(np.exp(x[0]) * z[:, None] - x[None, 1:])
    each = np.exp(answers @ np.log(p).T + (1 - answers) @ np.log1p(-p).T)
    return -np.sum(np.log(each @ w))


found = top(rasch, np.zeros(6))
out["rasch"] = {"sd": np.exp(found.x[0]), "easiness": (-found.x[1:]).tolist(), "loglik": -found.fun}



def settled(right, difficulty, sd):
    """Log evidence of one person's answers by expectation propagation, moments of each answer by quadrature."""
    precision, pull = np.zeros(len(right)), np.zeros(len(right))
    for _ in range(200):
        before = precision.copy()
        for j, sign in enumerate(np.where(right > 0, 1.0, -1.0)):
            inverse = 1 / sd**2 + precision.sum() - precision[j]
            mean = (pull.sum() - pull[j]) / inverse
            x = mean + z / np.sqrt(inverse)
            weight = w * expit(sign * (x - difficulty[j]))
            first = weight @ x / weight.sum()
            second = weight @ (x - first) ** 2 / weight.sum()
            precision[j], pull[j] = 1 / second - inverse, first / second - mean * inverse
        if np.abs(precision - before).max() < 1e-13:
            break
    whole, towards = 1 / sd**2 + precision.sum(), pull.sum()
    log_evidence = -np.log(sd) - 0.5 * np.log(whole) + 0.5 * towards**2 / whole
    for j, sign in enumerate(np.where(right > 0, 1.0, -1.0)):
        inverse, others = whole - precision[j], towards - pull[j]
        x = others / inverse + z / np.sqrt(inverse)
        mass = w @ expit(sign * (x - difficulty[j]))
        site = -0.5 * np.log(1 + precision[j] / inverse) + 0.5 * (towards**2 / whole - others**2 / inverse)
        log_evidence += np.log(mass) - site
    return log_evidence


patterns, often = np.unique(answers, axis=0, return_counts=True)


def propagated(x):
    return -sum(n * settled(right, x[1:], np.exp(x[0])) for right, n in zip(patterns, often))


found = minimize(propagated, found.x, method="BFGS", options=dict(gtol=1e-4))
out["rasch_by_expectation_propagation"] = {"sd": np.exp(found.x[0]), "easiness": (-found.x[1:]).tolist(), "loglik": -found.fun}

# Counts k of a set on one of four rungs, the next unit failed or the target reached: ln C logistic about a_rung, one scale.
rung, _, failed, lower, upper = np.loadtxt("synthetic_reps.csv", delimiter=",", skiprows=1).T
rung = rung.astype(int)


def counts(x):
    centre, scale = x[rung], np.exp(x[4])
    with np.errstate(divide="ignore"):
        below = expit((np.log(lower) - centre) / scale)
        above = expit((np.log(upper) - centre) / scale)
    return -np.sum(np.log(above - below))


found = top(counts, np.array([1.7, 1.3, 0.9, 0.4, -1.6]))
out["counts"] = {"centre": found.x[:4].tolist(), "scale": np.exp(found.x[4]), "loglik": -found.fun}

print(json.dumps(out, indent=1, default=float))
