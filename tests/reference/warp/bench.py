"""Times this crate and its peers in one go, in million cells a second, and prints ratios.

    bench.py PROGRAM    PROGRAM is the built example `throughput` of setdrift-warp

12 dimensions, 128 frames (60 in 10,000 for the subsequence), band radius 12, one thread. The peers
work in f64. Seconds are those the thread had the processor, ours and theirs take turns, and the best
of many calls counts, so that what else the machine does weighs on neither. Fails when a ratio is below
its bar.
"""

import os
import subprocess
import sys
import time
import warnings

os.environ["OMP_NUM_THREADS"] = os.environ["NUMBA_NUM_THREADS"] = "1"

import numpy as np  # noqa: E402
from aeon.distances import dtw_pairwise_distance  # noqa: E402
from dtaidistance import dtw_ndim  # noqa: E402
from dtaidistance.subsequence.dtw import subsequence_alignment  # noqa: E402
from tslearn.metrics import cdist_dtw, dtw_subsequence_path  # noqa: E402

warnings.filterwarnings("ignore")
COUNT, FRAMES, DIMS, RADIUS, ROUNDS, REPEATS = 8, 128, 12, 12, 3, 12
series = np.random.default_rng(1).standard_normal((COUNT, FRAMES, DIMS)).cumsum(1)
flat = np.ascontiguousarray(series.transpose(0, 2, 1))
query, long = series[0, :60], np.random.default_rng(2).standard_normal((10_000, DIMS)).cumsum(0)
full = FRAMES * FRAMES
band = sum(min(FRAMES - 1, i + RADIUS) - max(0, i - RADIUS) + 1 for i in range(FRAMES))
pairs = COUNT * (COUNT - 1) // 2
sakoe = {"global_constraint": "sakoe_chiba", "sakoe_chiba_radius": RADIUS}

# What, library, cells, call.
PEERS = [
    ("one pair full", "dtaidistance", COUNT * full, lambda: [dtw_ndim.distance_fast(query_, series[0]) for query_ in series]),
    ("one pair banded", "dtaidistance", COUNT * band,
     lambda: [dtw_ndim.distance_fast(query_, series[0], window=RADIUS + 1) for query_ in series]),
    ("matrix full", "dtaidistance", pairs * full,
     lambda: dtw_ndim.distance_matrix_fast(series, DIMS, parallel=False, compact=True)),
    ("matrix banded", "dtaidistance", pairs * band,
     lambda: dtw_ndim.distance_matrix_fast(series, DIMS, window=RADIUS + 1, parallel=False, compact=True)),
    ("matrix full", "tslearn", pairs * full, lambda: cdist_dtw(series, n_jobs=1)),
    ("matrix banded", "tslearn", pairs * band, lambda: cdist_dtw(series, n_jobs=1, **sakoe)),
    ("matrix full", "aeon", pairs * full, lambda: dtw_pairwise_distance(flat)),
    ("matrix banded", "aeon", pairs * band, lambda: dtw_pairwise_distance(flat, window=RADIUS / FRAMES)),
    ("subsequence full", "dtaidistance", query.shape[0] * len(long),
     lambda: subsequence_alignment(query, long, penalty=0, use_c=True).best_match(minlength=None)),
    ("subsequence full", "tslearn", query.shape[0] * len(long), lambda: dtw_subsequence_path(query, long)),
]  # fmt: skip

# Ours, the peer call it is held against, bar in f32 and f64 (0: none stated), library.
BARS = [
    ("one pair full", "one pair full", 3, 3),
    ("one pair banded", "one pair banded", 3, 3),
    ("one pair full", "matrix full", 3, 3),
    ("one pair banded", "matrix banded", 3, 3),
    ("one against many full", "matrix full", 8, 4),
    ("one against many banded", "matrix banded", 12, 6),
    ("pairwise, lengths 60-200, full", "matrix full", 8, 4),
    ("pairwise, lengths 60-200, banded", "matrix banded", 12, 6),
    ("subsequence, 60 in 10,000, full", "subsequence full", 3, 3),
]


def main(program):
    theirs, ours = {}, {}
    for what, library, _, call in PEERS:
        call()  # compiles, loads
        theirs[what, library] = 0.0
    for _ in range(ROUNDS):
        for what, library, cells, call in PEERS:
            for _ in range(REPEATS):
                start = time.thread_time()
                call()
                speed = cells / (time.thread_time() - start) / 1e6
                theirs[what, library] = max(theirs[what, library], speed)
        output = subprocess.run([program], check=True, capture_output=True, text=True).stdout
        for line in output.splitlines():
            what, number, speed = line.split("\t")
            ours[what, number] = max(ours.get((what, number), 0.0), float(speed))
    print("million cells a second, one thread unless stated")
    for (what, library), speed in theirs.items():
        print(f"  {library:13} {what:45} {speed:8.0f}")
    for (what, number), speed in ours.items():
        if number != "ratio":
            print(f"  ours {number:8} {what:45} {speed:8.0f}")
    print("ratio to dtaidistance (bar)")
    short = 0
    for what, against, *bars in BARS:
        for number, bar in zip(("f32", "f64"), bars):
            ratio = ours[what, number] / theirs[against, "dtaidistance"]
            short += ratio < bar
            print(f"  {number} {what:45} {ratio:6.1f} ({bar})" + (" SHORT" if ratio < bar else ""))
    for window in ("full", "banded"):
        for number in ("f32", "f64"):
            one, two = (ours[f"pairwise by the clock, threads {threads}, {window}", number] for threads in (1, 2))
            print(f"2 threads over 1, {number} {window}: {two / one:.2f}")
    ((what, plain),) = ((what, speed) for (what, number), speed in ours.items() if number == "ratio")
    print(f"{what}: {plain:.2f}")
    return short == 0


if __name__ == "__main__":
    sys.exit(not main(sys.argv[1]))
