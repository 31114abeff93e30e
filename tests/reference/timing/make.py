"""Values from scipy and ruptures that the tests of `timing` compare with.

Usage: make.py FOLDER. Writes plain CSV; versions are pinned in requirements.txt.
"""
import sys
from pathlib import Path

import numpy as np
import ruptures as rpt
from scipy import stats
from scipy.spatial import ConvexHull

out = Path(sys.argv[1])
out.mkdir(parents=True, exist_ok=True)
rng = np.random.default_rng(20260110)


def row(*values):
    return ",".join(format(float(v), ".6f") for v in values)


# Lags of a cue: low, high of scipy's percentile bootstrap of the median, then the lags.
lines = []
for n in (5, 8, 12, 25, 60):
    v = np.round(rng.gamma(4.0, 0.1, n), 6)
    r = stats.bootstrap((v,), np.median, method="percentile", n_resamples=50_000, rng=1)
    ci = r.confidence_interval
    lines.append(row(ci.low, ci.high, *v))
(out / "bootstrap.csv").write_text("\n".join(lines) + "\n")

# k, n, low, high of Wilson's interval.
lines = []
for k, n in ((0, 10), (1, 3), (7, 20), (19, 20), (50, 120)):
    ci = stats.binomtest(k, n).proportion_ci(0.95, method="wilson")
    lines.append(row(k, n, ci.low, ci.high))
(out / "wilson.csv").write_text("\n".join(lines) + "\n")

# Theil-Sen slope, then x and y in turn.
lines = []
for n in (4, 9, 20):
    x = np.round(np.sort(rng.uniform(0, 5, n)), 6)
    y = np.round(0.1 * x + rng.normal(0, 0.2, n), 6)
    lines.append(row(stats.theilslopes(y, x).slope, *np.column_stack([x, y]).ravel()))
(out / "theil_sen.csv").write_text("\n".join(lines) + "\n")

# Area of the convex hull, then x and y in turn.
lines = []
for n in (3, 5, 5, 12):
    p = np.round(rng.uniform(-7, 7, (n, 2)), 6)
    lines.append(row(ConvexHull(p).volume, *p.ravel()))
(out / "hull.csv").write_text("\n".join(lines) + "\n")

# A person at rest who then speeds up evenly: true onset, ruptures' change point, rate, then the
# distances along the way. Continuous piecewise-linear cost, one change, exact search.
lines = []
for rate, noise in ((25.0, 0.10), (20.0, 0.25), (10.0, 0.35)):
    for _ in range(6):
        onset = rng.uniform(1.2, 1.5)
        t = np.arange(0, onset + 1.2, 1 / rate)
        s = 0.5 * 3.5 * np.maximum(t - onset, 0) ** 2 + rng.normal(0, noise, t.size)
        s = np.round(s, 6)
        change = rpt.Dynp(model="clinear", min_size=3, jump=1).fit(s).predict(n_bkps=1)[0]
        lines.append(row(onset, change / rate, rate, noise, *s))
(out / "change_points.csv").write_text("\n".join(lines) + "\n")
