"""Makes and compares the fixtures that crates/warp/tests/outside.rs reads.

    fixtures.py make FOLDER        ask the reference libraries, write FOLDER/*.tsv
    fixtures.py compare NEW OLD    fail unless both folders hold the same cases and answers

Inputs are not stored: each case names a seed, and both sides draw the same series from it (`draw`).
A path is written as its first cell and one letter a step: d(iagonal), q(uery alone), r(eference
alone), or (a,b) for any other step.
"""

import math
import sys
import warnings
from pathlib import Path

import numpy as np

warnings.filterwarnings("ignore")
MASK = (1 << 64) - 1


def draw(seed, frames, dims):
    """Multiples of 2**-20, which add without rounding: noise and walks, two seeds of each in turn."""
    state = seed
    values = np.empty(frames * dims)
    for at in range(frames * dims):
        state = (state * 6364136223846793005 + 1442695040888963407) & MASK
        values[at] = ((state >> 40) - (1 << 23)) / (1 << 20)
    values = values.reshape(frames, dims)
    return np.cumsum(values, axis=0) / 4 if seed // 2 % 2 else values


def path_text(path):
    if path is None:
        return "-"
    path = [(int(i), int(j)) for i, j in path]
    steps = {(1, 1): "d", (1, 0): "q", (0, 1): "r"}
    moves = ((b[0] - a[0], b[1] - a[1]) for a, b in zip(path, path[1:]))
    return f"{path[0][0]},{path[0][1]}:" + "".join(steps.get(move) or f"({move[0]},{move[1]})" for move in moves)


def number(value):
    return "none" if value is None else repr(float(value))


class Sizes:
    """Sizes drawn without numpy's generators, whose streams may change between versions."""

    def __init__(self, seed):
        self.state = seed

    def between(self, low, high):
        self.state = (self.state * 6364136223846793005 + 1442695040888963407) & MASK
        return low + (self.state >> 33) % (high - low + 1)


def write(folder, name, header, rows):
    text = "\t".join(header) + "\n" + "".join("\t".join(map(str, row)) + "\n" for row in rows)
    (folder / name).write_text(text)
    print(f"{name}: {len(rows)} cases")


DTW_PYTHON_STEPS = [
    "symmetric1", "symmetric2", "asymmetric", "asymmetricItakura", "symmetricP05", "symmetricP1", "symmetricP2",
    "asymmetricP0", "asymmetricP05", "asymmetricP1", "asymmetricP2",
]  # fmt: skip


def dtw_python(folder):
    """Step patterns, windows, open ends, normalised distances and paths; Euclidean local cost."""
    import dtw

    sizes = Sizes(11)
    rows = []
    for case in range(2200):
        steps = DTW_PYTHON_STEPS[case % len(DTW_PYTHON_STEPS)]
        n, m = sizes.between(1, 24), sizes.between(1, 24)
        if case % 3:  # most patterns bound the slope, so keep most pairs feasible
            m = max(1, n + sizes.between(-3, 3))
        dims = (1, 3)[sizes.between(0, 1)]
        window = ("none", "sakoechiba", "slantedband")[sizes.between(0, 2)]
        size = sizes.between(0, 8)
        ends = ("closed", "end", "both")[sizes.between(0, 2)]
        if steps == "symmetric1":
            ends = "closed"  # cannot be normalised, so dtw-python refuses open ends
        if ends == "both":
            # Elsewhere dtw-python weighs the first cell as a move from before the query.
            ends, window = ("both", "none") if steps == "asymmetric" else ("end", window)
        x, y = draw(2 * case, n, dims), draw(2 * case + 1, m, dims)
        args = {} if window == "none" else {"window_type": window, "window_args": {"window_size": size}}
        pattern = steps
        if steps == "asymmetricItakura":  # there, but not public, and without its normalisation
            pattern = dtw.stepPattern._asymmetricItakura
            pattern.hint = "N"
        try:
            found = dtw.dtw(
                x, y, step_pattern=pattern, open_begin=ends == "both", open_end=ends in ("both", "end"), **args
            )
        except ValueError as error:
            assert "No warping path" in str(error) or "All-NaN" in str(error), error
            found = None
        if found is None or not math.isfinite(found.distance):
            value = normalised = path = None
        else:
            value, normalised = found.distance, found.normalizedDistance
            normalised = None if math.isnan(normalised) else normalised
            path = list(zip(found.index1, found.index2))
        rows.append((steps, window, size, ends, n, m, dims, case, number(value), number(normalised), path_text(path)))
    header = ("steps", "window", "size", "ends", "n", "m", "dims", "seed", "distance", "normalised", "path")
    write(folder, "dtw_python.tsv", header, rows)


def dtaidistance(folder):
    """Banded distances and paths in one and several dimensions, LB_Keogh, best subsequence."""
    from dtaidistance import dtw, dtw_ndim
    from dtaidistance.subsequence.dtw import subsequence_alignment

    sizes = Sizes(22)
    rows = []
    for case in range(1200):
        n, m, dims = sizes.between(1, 40), sizes.between(1, 40), sizes.between(1, 4)
        radius = sizes.between(0, 12) if case % 4 else -1
        window = None if radius < 0 else radius + 1
        x, y = draw(2 * case, n, dims), draw(2 * case + 1, m, dims)
        if dims == 1:
            x, y = x[:, 0], y[:, 0]
            value = dtw.distance(x, y, window=window)
            path = dtw.warping_path(x, y, window=window)
            keogh = dtw.lb_keogh(x, y, window=window) if n == m else None
        else:
            value = dtw_ndim.distance(x, y, window=window)
            path = dtw_ndim.warping_path(x, y, window=window)
            keogh = None
        rows.append((radius, n, m, dims, case, number(value), number(keogh), path_text(path)))
    write(folder, "dtaidistance.tsv", ("radius", "n", "m", "dims", "seed", "distance", "keogh", "path"), rows)

    rows = []
    for case in range(300):
        n, m = sizes.between(2, 12), sizes.between(30, 90)
        x, y = draw(2 * case, n, 1)[:, 0], draw(2 * case + 1, m, 1)[:, 0]
        best = subsequence_alignment(x, y, penalty=0, use_c=False).best_match(minlength=None)
        start, end = best.segment
        rows.append((n, m, case, number(best.distance), start, end + 1))
    write(folder, "dtaidistance_subsequence.tsv", ("n", "m", "seed", "distance", "start", "end"), rows)


def tslearn(folder):
    """Bands, Itakura's parallelogram, subsequences, envelopes and averages."""
    from tslearn.barycenters import dtw_barycenter_averaging_petitjean
    from tslearn.metrics import dtw_path, dtw_subsequence_path, lb_keogh

    sizes = Sizes(33)
    rows = []
    for case in range(1200):
        n, m, dims = sizes.between(2, 40), sizes.between(2, 40), sizes.between(1, 5)
        kind = ("full", "radius", "itakura")[case % 3]
        parameter, args = 0, {}
        if kind == "radius":
            parameter = sizes.between(0, 12)
            args = {"global_constraint": "sakoe_chiba", "sakoe_chiba_radius": parameter}
        elif kind == "itakura":
            m = n  # for other shapes tslearn takes the slope against n / m, not against the diagonal
            parameter = sizes.between(2, 4)
            args = {"global_constraint": "itakura", "itakura_max_slope": float(parameter)}
        x, y = draw(2 * case, n, dims), draw(2 * case + 1, m, dims)
        path, value = dtw_path(x, y, **args)
        rows.append((kind, parameter, n, m, dims, case, number(value), path_text(path)))
    write(folder, "tslearn.tsv", ("window", "parameter", "n", "m", "dims", "seed", "distance", "path"), rows)

    rows = []
    for case in range(400):
        n, m, dims = sizes.between(2, 15), sizes.between(20, 80), sizes.between(1, 4)
        path, value = dtw_subsequence_path(draw(2 * case, n, dims), draw(2 * case + 1, m, dims))
        rows.append((n, m, dims, case, number(value), path_text(path)))
    write(folder, "tslearn_subsequence.tsv", ("n", "m", "dims", "seed", "distance", "path"), rows)

    rows = []
    for case in range(300):
        n, radius = sizes.between(1, 50), sizes.between(0, 9)
        x, y = draw(2 * case, n, 1), draw(2 * case + 1, n, 1)
        rows.append((radius, n, case, number(lb_keogh(x, y, radius=radius))))
    write(folder, "tslearn_keogh.tsv", ("radius", "n", "seed", "bound"), rows)

    rows = []
    for case in range(40):
        count, size, dims, rounds = sizes.between(2, 6), sizes.between(5, 20), sizes.between(1, 3), sizes.between(1, 5)
        series = [draw(100 * case + k, sizes.between(5, 25), dims) for k in range(count)]
        weights = [sizes.between(1, 4) for _ in range(count)]
        centre = dtw_barycenter_averaging_petitjean(
            series,
            init_barycenter=draw(100 * case + 99, size, dims),
            barycenter_size=size,
            max_iter=rounds,
            tol=0.0,
            weights=np.array(weights, dtype=float),
        )
        shown = ",".join(number(value) for value in centre.ravel())
        lengths = ",".join(str(len(one)) for one in series)
        rows.append((size, dims, rounds, case, lengths, ",".join(map(str, weights)), shown))
    write(folder, "tslearn_average.tsv", ("size", "dims", "rounds", "seed", "lengths", "weights", "centre"), rows)


def same(new, old):
    """Equal texts, or equal numbers to a part in 10**9 (mathematics libraries differ in the last bits)."""
    if new == old:
        return True
    try:
        pairs = list(zip(new.split(","), old.split(","), strict=True))
        return all(math.isclose(float(a), float(b), rel_tol=1e-9, abs_tol=1e-9) for a, b in pairs)
    except ValueError:
        return False


def compare(new_folder, old_folder):
    names = sorted(path.name for path in old_folder.glob("*.tsv"))
    assert names == sorted(path.name for path in new_folder.glob("*.tsv")), "another set of files"
    wrong = 0
    for name in names:
        new, old = ((folder / name).read_text().splitlines() for folder in (new_folder, old_folder))
        if len(new) != len(old):
            wrong += 1
            print(f"{name}: {len(new)} lines made, {len(old)} committed")
        for number, (a, b) in enumerate(zip(new, old), 1):
            cells = list(zip(a.split("\t"), b.split("\t")))
            if len(a.split("\t")) != len(b.split("\t")) or not all(same(x, y) for x, y in cells):
                wrong += 1
                print(f"{name}:{number}: made {a!r}, committed {b!r}")
    print(f"compared {len(names)} files: {wrong or 'no'} differences")
    return wrong == 0


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["make", folder]:
            target = Path(folder)
            target.mkdir(parents=True, exist_ok=True)
            for library in (dtw_python, dtaidistance, tslearn):
                library(target)
        case ["compare", new, old]:
            sys.exit(not compare(Path(new), Path(old)))
        case _:
            sys.exit(__doc__)
