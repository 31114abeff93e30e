"""Random pairs of labellings with what scikit-learn and rapidfuzz say of them: accuracy, Cohen's kappa,
confusion matrix; Levenshtein distance between the sequences of segments. Background is -1."""

import json
import random
import sys
from itertools import groupby

from rapidfuzz.distance import Levenshtein
from sklearn.metrics import accuracy_score, cohen_kappa_score, confusion_matrix

rng = random.Random(7)


def labelling(length, labels):
    out = []
    while len(out) < length:
        out += [rng.randrange(-1, labels)] * rng.randrange(1, 12)
    return out[:length]


def segments(labels):
    return [label for label, _ in groupby(labels) if label >= 0]


cases = []
while len(cases) < 200:
    length, labels = rng.randrange(5, 120), rng.randrange(1, 6)
    truth = labelling(length, labels)
    said = [rng.randrange(-1, labels) if rng.random() < 0.15 else t for t in truth]
    if rng.random() < 0.3:
        said = labelling(length, labels)
    if len(set(truth) | set(said)) < 2:
        continue
    names = list(range(-1, labels))
    a, b = segments(truth), segments(said)
    cases.append(
        {
            "truth": truth,
            "said": said,
            "accuracy": round(float(accuracy_score(truth, said)), 12),
            "kappa": round(float(cohen_kappa_score(truth, said)), 12),
            "labels": names,
            "confusion": confusion_matrix(truth, said, labels=names).tolist(),
            "distance": Levenshtein.distance(a, b),
            "longer": max(len(a), len(b)),
        }
    )

with open(sys.argv[1], "w", encoding="utf-8") as file:
    file.write("[\n" + ",\n".join(json.dumps(c) for c in cases) + "\n]\n")
