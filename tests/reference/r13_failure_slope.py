# logistic regression of failing sets on time (weeks): estimates, standard errors and Wald intervals, by two routes of statsmodels;
# the standard error with the days as clusters (statsmodels cov_type="cluster", its small-sample factor included)
import json
import numpy as np
import statsmodels
import statsmodels.api as sm

# Invented sets as (days of training from the first, failures as 0 and 1 in order); no person's log.
CASES = {
    "falling": ([0, 0, 0, 2, 2, 4, 4, 4, 7, 7, 9, 9, 11, 11, 14, 14, 16, 18, 18, 21, 21, 25, 25, 28, 30, 32, 35, 35, 39, 42],
                [1, 0, 1, 1, 0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0]),
    "rising, rare": ([0, 3, 3, 5, 10, 10, 12, 17, 17, 19, 24, 26, 31, 33, 38, 40, 45, 47, 52, 54, 59, 61, 66, 70, 77, 83],
                     [0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 1, 1, 0, 1]),
    "level, eight sets": ([0, 7, 14, 21, 28, 35, 42, 49], [1, 0, 1, 0, 0, 1, 0, 1]),
    "two days": ([0, 0, 0, 0, 0, 0, 30, 30, 30, 30, 30, 30], [1, 1, 1, 1, 0, 0, 1, 0, 0, 0, 0, 0]),
    "days alike": ([0, 0, 0, 3, 3, 3, 3, 7, 7, 7, 10, 10, 10, 14, 14, 14, 17, 17, 17, 21, 21, 21, 21, 24, 24, 24],
                   [1, 1, 1, 0, 0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0, 0, 1, 1, 1, 0, 0, 0, 0, 0, 0, 1]),
    "steep": ([0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13], [0, 0, 0, 0, 0, 0, 1, 0, 1, 1, 1, 1, 1, 1]),
}

out = {"statsmodels": statsmodels.__version__, "cases": {}}
for name, (days, failed) in CASES.items():
    x = sm.add_constant(np.array(days) / 7.0)
    y = np.array(failed, dtype=float)
    logit = sm.Logit(y, x).fit(method="newton", tol=1e-13, maxiter=200, disp=0)
    glm = sm.GLM(y, x, family=sm.families.Binomial()).fit(tol=1e-14, maxiter=200)
    clustered = sm.Logit(y, x).fit(method="newton", tol=1e-13, maxiter=200, disp=0, cov_type="cluster",
                                   cov_kwds={"groups": np.array(days)})
    low, high = logit.conf_int(alpha=0.05)[1]
    out["cases"][name] = {
        "days": days,
        "failed": failed,
        "intercept": float(logit.params[0]),
        "slope": float(logit.params[1]),
        "error": float(logit.bse[1]),
        "interval": [float(low), float(high)],
        "glm_slope": float(glm.params[1]),
        "glm_error": float(glm.bse[1]),
        "clustered_error": float(clustered.bse[1]),
    }
print(json.dumps(out, indent=1))
