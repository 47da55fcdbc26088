# logistic regression with a ridge, free intercept: scikit-learn, and a Newton iteration of our own as the second route
import csv
import json
import numpy as np
import sklearn
from sklearn.datasets import load_breast_cancer
from sklearn.linear_model import LogisticRegression
from sklearn.preprocessing import StandardScaler

X, y = load_breast_cancer(return_X_y=True)
with open("wdbc5.csv", "w", newline="") as file:
    rows = csv.writer(file, lineterminator="\n")
    rows.writerow(["radius", "texture", "perimeter", "area", "smoothness", "benign"])
    rows.writerows([*(repr(float(v)) for v in x[:5]), int(b)] for x, b in zip(X, y))
X = StandardScaler().fit_transform(X)[:, :5]
out = {"sklearn": sklearn.__version__, "data": "breast_cancer first 5 columns, standardised (ddof=0), y=1 benign"}
for C in (0.1, 1.0, 10.0):
    m = LogisticRegression(C=C, tol=1e-12, max_iter=100000, solver="newton-cg").fit(X, y)
    # objective: sum of log losses + |w|^2 / (2C), the intercept not penalised
    Z = np.c_[np.ones(len(y)), X]
    w = np.zeros(6)
    L = np.diag([0] + [1 / C] * 5)
    for _ in range(100):
        p = 1 / (1 + np.exp(-Z @ w))
        g = Z.T @ (p - y) + L @ w
        H = Z.T @ (Z * (p * (1 - p))[:, None]) + L
        s = np.linalg.solve(H, g)
        w -= s
        if abs(s).max() < 1e-14:
            break
    p = 1 / (1 + np.exp(-Z @ w))
    nll = -np.sum(y * np.log(p) + (1 - y) * np.log1p(-p))
    out[f"C={C}"] = {
        "intercept": w[0],
        "coef": w[1:].tolist(),
        "nll": nll,
        "penalised_obj": nll + 0.5 * w @ L @ w,
        "logdetH": np.linalg.slogdet(H)[1],
        "max_diff_vs_sklearn": float(abs(np.r_[m.intercept_, m.coef_[0]] - w).max()),
    }
print(json.dumps(out, indent=1, default=float))
