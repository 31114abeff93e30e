"""1-NN classification on public sets, against aeon on the same data and published accuracies.

    neighbours.py PROGRAM    PROGRAM is the built example `neighbour` of setdrift-warp

The sets are read from the installed aeon package (default split, full window). Published accuracies:
the UCR archive's table (Dau et al. 2019) for the univariate sets; tslearn's results files and
Shifaz et al. (arXiv 2102.10231) for BasicMotions.
"""

import subprocess
import sys
import tempfile
import warnings
from pathlib import Path

import aeon
import numpy as np
from aeon.datasets import load_classification
from aeon.distances import dtw_pairwise_distance

warnings.filterwarnings("ignore")
SETS = Path(aeon.__file__).parent / "datasets" / "data"
# Set, z-normalised, warping, accuracy, whether aeon is quick enough to be asked for every distance.
CASES = [
    ("GunPoint", False, "dependent", 0.9067, True),
    ("ItalyPowerDemand", False, "dependent", 0.9504, True),
    ("ArrowHead", False, "dependent", 0.7029, True),
    ("OSULeaf", False, "dependent", 0.5909, False),
    ("BasicMotions", False, "dependent", 0.975, True),
    ("BasicMotions", False, "independent", 1.0, True),
    ("BasicMotions", True, "dependent", 0.975, True),
    ("BasicMotions", True, "independent", 0.875, True),
]


def write(path, series, labels):
    with path.open("w") as file:
        for one, label in zip(series, labels):
            values = "\t".join(repr(float(value)) for value in one.T.ravel())
            file.write(f"{label}\t{one.shape[0]}\t{values}\n")


def distances(test, train, warping):
    if warping == "dependent":
        return dtw_pairwise_distance(test, train)
    return sum(dtw_pairwise_distance(test[:, [dim]], train[:, [dim]]) for dim in range(test.shape[1]))


def main(program):
    wrong = 0
    for name, normalise, warping, published, ask in CASES:
        train, train_labels = load_classification(name, split="train", extract_path=str(SETS))
        test, test_labels = load_classification(name, split="test", extract_path=str(SETS))
        if normalise:
            train, test = ((x - x.mean(-1, keepdims=True)) / x.std(-1, keepdims=True) for x in (train, test))
        with tempfile.TemporaryDirectory() as folder:
            write(Path(folder) / f"{name}.train.tsv", train, train_labels)
            write(Path(folder) / f"{name}.test.tsv", test, test_labels)
            command = [program, folder, name, warping]
            lines = subprocess.run(command, check=True, capture_output=True, text=True).stdout.splitlines()
        found = [line.split("\t") for line in lines]
        accuracy = np.mean([label == expected for (_, _, label), expected in zip(found, test_labels, strict=True)])
        fine = abs(accuracy - published) < 5e-5
        checked = "accuracy only"
        if ask:
            table = distances(test, train, warping)
            ours = np.array([float(distance) for _, distance, _ in found])
            same = np.allclose(ours, table.min(axis=1), rtol=1e-9, atol=1e-12)
            index = np.array([int(index) for index, _, _ in found])
            nearest = np.allclose(table[np.arange(len(index)), index], table.min(axis=1), rtol=1e-9, atol=1e-12)
            fine &= bool(same and nearest)
            checked = "every nearest distance equal to aeon's" if same and nearest else "DISTANCES DIFFER FROM aeon's"
        wrong += not fine
        kind = f"{warping}{', z-normalised' if normalise else ''}"
        print(f"{name} ({kind}): accuracy {accuracy:.4f}, published {published:.4f}; {checked}")
    return wrong == 0


if __name__ == "__main__":
    sys.exit(not main(sys.argv[1]))
