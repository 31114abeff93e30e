"""Fits the trees of crates/events/src/screens.trees.

usage: screens.py TRAIN [TRAIN ...] [--test FILE ...] [--write]

Files are what `cargo run -p setdrift-events --example meetings -- FIRST LAST` prints. Prints F1 of screens by
world and sensor over the test files; with --write replaces the table. Gradient boosting on the logistic loss:
scikit-learn, HistGradientBoostingClassifier.
"""

import argparse
import pathlib

import numpy as np
from sklearn.ensemble import HistGradientBoostingClassifier

TOLD = 0.4  # crates/events/src/screens.rs
SAME_S = 0.75  # a meeting is the screen when it is this near in time
PERHAPS_S = 1.5
AGAIN_S = 2.5
TABLE = pathlib.Path(__file__).parents[3] / "crates/events/src/screens.trees"


def sessions(path):
    """Name, true screens, contacts that count either way, meetings of each session."""
    out = []
    for line in open(path):
        mark, *rest = line.rstrip("\n").split(",")
        if mark == "S":
            out.append((tuple(rest), [], [], []))
            continue
        row = (int(rest[0]), int(rest[1]), float(rest[2]))
        if mark == "M":
            out[-1][3].append((*row, [float(v) for v in rest[3:]]))
        else:
            out[-1]["TP".index(mark) + 1].append(row)
    return out


def labels(true, perhaps, meetings):
    """1 for the meeting nearest to a true screen of the pair, 0 for others, None where either is right."""
    out = [0] * len(meetings)
    for t in true:
        near = [
            (abs(m[2] - t[2]), i)
            for i, m in enumerate(meetings)
            if m[:2] == t[:2] and abs(m[2] - t[2]) <= SAME_S and out[i] == 0
        ]
        if near:
            out[min(near)[1]] = 1
    for i, m in enumerate(meetings):
        if not out[i] and any(m[:2] == p[:2] and abs(m[2] - p[2]) <= PERHAPS_S for p in perhaps):
            out[i] = None
    return out


def table(model):
    lines = [f"{float(np.ravel(model._baseline_prediction)[0]):.4f}"]
    for (tree,) in model._predictors:
        lines.append(
            " ".join(
                f"{n['value']:.4f}"
                if n["is_leaf"]
                else f"{n['feature_idx']}<{n['num_threshold']:.4f}:{n['left']}:{n['right']}"
                for n in tree.nodes
            )
        )
    return "\n".join(lines) + "\n"


def f1(model, files):
    """F1 by world and sensor as the detector tells screens: the surest of a pair first."""
    counts = {}
    for path in files:
        for name, true, perhaps, meetings in sessions(path):
            sure = model.predict_proba(np.array([m[3] for m in meetings]))[:, 1]
            told = []
            for i in np.argsort(-sure, kind="stable"):
                a, u, t, _ = meetings[i]
                again = any({a, u} == {b, v} and abs(t - s) < AGAIN_S for b, v, s in told)
                if sure[i] >= TOLD and not again:
                    told.append((a, u, t))
            told = [
                m for m in told if not any(m[:2] == p[:2] and abs(m[2] - p[2]) <= PERHAPS_S for p in perhaps)
            ]
            hit = 0
            for t in true:
                same = [m for m in told if m[:2] == t[:2] and abs(m[2] - t[2]) <= SAME_S]
                if same:
                    told.remove(same[0])
                    hit += 1
            c = counts.setdefault(name[:2], [0, 0, 0])
            for k, v in enumerate((hit, len(told), len(true) - hit)):
                c[k] += v
    for name, (hit, extra, missed) in sorted(counts.items()):
        print(f"{name[0]:16} {name[1]:9} {2 * hit / max(2 * hit + extra + missed, 1):.3f}  {hit} {extra} {missed}")


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("train", nargs="+")
    p.add_argument("--test", nargs="*", default=[])
    p.add_argument("--write", action="store_true")
    p.add_argument("--trees", type=int, default=300)
    p.add_argument("--leaves", type=int, default=10)
    p.add_argument("--worlds", default="", help="fit to worlds whose name begins so")
    a = p.parse_args()
    rows, marks = [], []
    for path in a.train:
        for name, true, perhaps, meetings in sessions(path):
            if not name[0].startswith(a.worlds):
                continue
            for m, label in zip(meetings, labels(true, perhaps, meetings)):
                if label is not None:
                    rows.append(m[3])
                    marks.append(label)
    model = HistGradientBoostingClassifier(
        max_iter=a.trees, learning_rate=0.1, max_leaf_nodes=a.leaves, l2_regularization=1.0, early_stopping=False
    )
    model.fit(np.array(rows), np.array(marks))
    print(f"{len(rows)} meetings, {sum(marks)} screens")
    f1(model, a.test)
    if a.write:
        TABLE.write_text(table(model))


if __name__ == "__main__":
    main()
