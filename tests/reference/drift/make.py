"""Values from scipy and scikit-learn that crates/drift/tests/reference.rs checks ours against.

Writes values.json beside this file, or to the path given. Seeds are fixed, so the same versions
(requirements.txt) make the same file.
"""

import json
import pathlib
import sys

import numpy as np
from scipy import stats
from scipy.optimize import linear_sum_assignment
from sklearn.cluster import DBSCAN
from sklearn.metrics import adjusted_rand_score, rand_score, silhouette_samples


def assignment(rng):
    cases = []
    for n in (1, 2, 3, 4, 5, 5, 5, 6, 6):
        cost = np.round(rng.uniform(0, 9, (n, n)), 4)
        rows, columns = linear_sum_assignment(cost)
        cases.append(
            {
                "n": n,
                "cost": cost.ravel().tolist(),
                "columns": columns.tolist(),
                "total": round(float(cost[rows, columns].sum()), 9),
            }
        )
    return cases


def loners(labels):
    """Noise as groups of one, which is how our measures take it."""
    labels = labels.copy()
    noise = labels < 0
    labels[noise] = labels.max() + 1 + np.arange(noise.sum())
    return labels


def clustering(rng):
    cases = []
    for k in range(24):
        n = int(rng.integers(8, 22))
        if k % 2:
            places = rng.uniform(0, 4, (n, 2))
            matrix = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
        else:
            # Warping distances break the triangle inequality: so does this.
            matrix = rng.uniform(0.1, 3, (n, n))
            matrix = (matrix + matrix.T) / 2
            np.fill_diagonal(matrix, 0)
        matrix = np.round(matrix, 4)
        radius = float(np.round(np.quantile(matrix[np.triu_indices(n, 1)], rng.uniform(0.05, 0.25)), 4))
        least = int(rng.integers(2, 5))
        labels = DBSCAN(eps=radius, min_samples=least, metric="precomputed").fit_predict(matrix)
        own = loners(labels)
        other = rng.integers(0, 4, n)
        groups = len(set(own.tolist()))
        width = None
        if 2 <= groups < n:
            width = np.round(silhouette_samples(matrix, own, metric="precomputed"), 12).tolist()
        cases.append(
            {
                "condensed": matrix[np.triu_indices(n, 1)].tolist(),
                "n": n,
                "radius": radius,
                "least": least,
                "labels": labels.tolist(),
                "silhouettes": width,
                "other": other.tolist(),
                "rand": round(float(rand_score(own, other)), 12),
                "adjusted_rand": round(float(adjusted_rand_score(own, other)), 12),
            }
        )
    return cases


def intervals(rng):
    regions = []
    for n in (3, 4, 5, 8, 20, 60):
        points = np.round(rng.normal(0, (0.4, 0.9), (n, 2)) @ np.array([[1, 0.5], [0, 1]]), 4)
        greatest = np.linalg.eigvalsh(np.cov(points.T)).max()
        factor = 2 * (n - 1) / (n - 2) * stats.f.ppf(0.95, 2, n - 2)
        regions.append(
            {"points": points.tolist(), "radius": round(float(np.sqrt(greatest / n * factor)), 10)}
        )
    p = np.round(np.concatenate([rng.uniform(0, 1, 20), rng.uniform(0, 0.01, 6)]), 5)
    return {
        "t": [[n, round(float(stats.t.ppf(0.975, n)), 9)] for n in (1, 2, 3, 4, 7, 12, 29, 61, 200)],
        "regions": regions,
        "p": p.tolist(),
        "adjusted": np.round(stats.false_discovery_control(p), 12).tolist(),
    }


def main():
    here = pathlib.Path(__file__).parent
    target = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else here / "values.json"
    rng = np.random.default_rng(20261025)
    values = {
        "assignment": assignment(rng),
        "clustering": clustering(rng),
        "intervals": intervals(rng),
    }
    target.write_text(json.dumps(values, separators=(",", ":")) + "\n")


main()
