# One short invented history through capacity_filter.py: the numbers a change of that filter would move.
import json
import numpy as np
from capacity_filter import Filter

SETS = [(0, 0, 4, True), (0, 1, 3, False), (2, 1, 2, True), (5, 0, 6, False), (5, 2, 0, True), (26, 1, 4, True), (26, 1, 3, True)]
f = Filter([0.0, 0.35, 0.7])
f.m[0] = 1.6
steps = []
for day, rung, reps, failed in SETS:
    f.advance(float(day))
    p = f.p_ge(rung, np.arange(1, 9))
    f.observe(rung, reps, failed)
    steps.append({'set (day, rung, reps, failed)': [day, rung, reps, failed], 'P(C >= 1..8) before': p.tolist(),
                  'mean': f.m.tolist(), 'variance': np.diag(f.C).tolist(), 'log evidence': float(f.logz)})
print(json.dumps({'numpy': np.__version__, 'steps': steps}, indent=1))
