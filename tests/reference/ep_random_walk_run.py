# Forward-backward sweeps of ep_random_walk.py against the exact grid of censored_update.py, on 200 simulated athletes.
import json
import numpy as np
from censored_update import grid, sim
from ep_random_walk import ep

N, T, S = 200, 40, 4
m0, v0, q, s = np.log(6) + 1, .8**2, .03**2 * 3, .3
data = sim(N, T, q, s, m0, v0, 'n', None, 3, 5, 'match')
Mg, Vg, Lg, _ = grid(data, m0, v0, q, s, 'n', N)
out = {'numpy': np.__version__, 'athletes': N, 'sets': T, 'sweeps': []}
for m, v, logz, smallest in ep(data, m0, v0, q, s, S):
    err = (m - Mg[-1]) / np.sqrt(Vg[-1])
    out['sweeps'].append({'rms mean error, exact sd': float(np.sqrt((err**2).mean())), 'mean sd ratio': float(np.sqrt(v / Vg[-1]).mean()),
                          'log evidence minus exact, mean': float((logz - Lg).mean()), 'smallest site precision': float(smallest)})
print(json.dumps(out, indent=1))
