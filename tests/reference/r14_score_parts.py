"""Parts of the Brier score with ties and weights by scikit-learn, on calib500.csv (invented, made by r07_scoring.py), and
central intervals of count distributions by scipy."""
import csv, json, numpy as np, scipy, sklearn
from scipy import stats
from sklearn.isotonic import IsotonicRegression
from sklearn.metrics import brier_score_loss

out = {'scipy': scipy.__version__, 'sklearn': sklearn.__version__}
with open('calib500.csv') as f:
    rows = [(float(r['p']), int(r['y'])) for r in csv.DictReader(f)]
p, y = np.array(rows).T
w = 1.0 + np.arange(500) % 3  # 1, 2, 3, 1, 2, 3, ... in the order of the file


def parts(p, w):
    """Score, miscalibration, discrimination, uncertainty; the fitted levels."""
    c = IsotonicRegression(increasing=True).fit(p, y, sample_weight=w).predict(p)
    mean = np.average(y, weights=w)
    s, sc, sr = (np.average((f - y) ** 2, weights=w) for f in (p, c, mean))
    assert abs(s - brier_score_loss(y, p, sample_weight=w)) < 1e-14
    return {'S': s, 'MCB': s - sc, 'DSC': sr - sc, 'UNC': sr, 'levels': np.unique(c).tolist()}


tied = np.round(p, 1)  # 11 places for 500 events
out['tied'] = parts(tied, np.ones(500))
out['tied_weighted'] = parts(tied, w)
out['weighted'] = parts(p, w)
out['against'] = parts(1 - p, np.ones(500))  # the higher, the rarer: the rising fit is one level
# Pooling that must go back one step and no further.
out['back'] = IsotonicRegression().fit_transform([0, 1, 2, 3, 4.], [0, 1, 5, 6, 0.]).tolist()

mass = [.05, .1, .2, .3, .2, .1, .05]
counts = stats.rv_discrete(values=(range(7), mass))
levels = (.25, .6, .8, .95)
out['intervals'] = [[float(e) for e in counts.interval(level)] for level in levels]
out['intervals_chance'] = [float(counts.cdf(h) - counts.cdf(l - 1)) for l, h in out['intervals']]
print(json.dumps(out, indent=1, default=float))
