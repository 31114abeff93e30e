"""Viterbi and forward-backward of hmmlearn on random models; writes values.json."""

import json
import sys

import numpy as np
from hmmlearn.hmm import CategoricalHMM

SEED = 20260110


def rows(rng, shape):
    x = rng.random(shape) ** 2 + 1e-3
    return x / x.sum(axis=-1, keepdims=True)


def case(rng, states, symbols, frames):
    model = CategoricalHMM(n_components=states, n_features=symbols, init_params="", params="")
    model.startprob_ = rows(rng, states)
    model.transmat_ = rows(rng, (states, states))
    model.emissionprob_ = rows(rng, (states, symbols))
    seen = rng.integers(0, symbols, frames)
    score, path = model.decode(seen.reshape(-1, 1), algorithm="viterbi")
    total, posterior = model.score_samples(seen.reshape(-1, 1))
    return {
        "start": model.startprob_.tolist(),
        "transition": model.transmat_.tolist(),
        "emission": model.emissionprob_.tolist(),
        "seen": seen.tolist(),
        "path": path.tolist(),
        "path_log_probability": float(score),
        "log_likelihood": float(total),
        "posterior": [[round(float(v), 12) for v in row] for row in posterior],
    }


rng = np.random.default_rng(SEED)
sizes = [(2, 3, 12), (3, 4, 40), (5, 6, 80), (8, 10, 120), (13, 8, 150)]
out = [case(rng, *size) for size in sizes for _ in range(2)]
with open(sys.argv[1], "w", encoding="utf-8") as f:
    json.dump(out, f)
    f.write("\n")
