"""Writes what general-purpose libraries give, for `cargo test -p setdrift-tracks` to compare with."""

import decimal
import json
import random
import sys
import warnings
from datetime import datetime, timedelta, timezone
from pathlib import Path

warnings.filterwarnings("ignore", "Missing optional dependencies")

import cv2
import geopandas
import motmetrics
import movingpandas
import numpy as np
import pandas
import pyarrow as pa
import pyarrow.ipc
import pyarrow.parquet
import scipy.optimize
import scipy.signal

import moving_features

out = Path(sys.argv[1])
out.mkdir(parents=True, exist_ok=True)
rng = np.random.default_rng(20260310)


def save(name, value):
    text = json.dumps(value)
    (out / name).write_text(text.replace("}, {", "},\n{") + "\n", encoding="utf-8")


# Homographies: four points, more that agree, more with noise, and some false ones.
FLOOR = np.array([[-14.0, 7.5], [14.0, 7.5], [14.0, -7.5], [-14.0, -7.5]])


def camera():
    """The corners of a floor as a camera at a side sees them, and the map back."""
    corners = np.array([[340, 150], [940, 170], [1230, 660], [60, 640]]) + rng.uniform(-50, 50, (4, 2))
    return corners, cv2.getPerspectiveTransform(corners.astype(np.float32), FLOOR.astype(np.float32))


def spread(corners, n):
    """Image points over the floor, its corners among them."""
    u, v = rng.uniform(0.05, 0.95, (2, n, 1))
    top = corners[0] + u * (corners[1] - corners[0])
    low = corners[3] + u * (corners[2] - corners[3])
    return np.vstack([corners, top + v * (low - top)])


def polished(h, image, floor):
    """From OpenCV's answer (points in single precision, few steps) to the very least squares."""
    def apart(v):
        m = np.append(v, 1.0).reshape(3, 3)
        return (cv2.perspectiveTransform(image[None], m)[0] - floor).ravel()

    found = scipy.optimize.least_squares(apart, (h / h[2, 2]).ravel()[:8], x_scale="jac",
                                         method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    return np.append(found.x, 1.0).reshape(3, 3)


homographies = []
for kind, n, noise, false in [("four", 4, 0.0, 0), ("agree", 9, 0.0, 0), ("noise", 8, 0.05, 0),
                              ("noise", 20, 0.2, 0), ("false", 10, 0.01, 2), ("false", 24, 0.01, 6)]:
    for _ in range(6):
        corners, h = camera()
        image = spread(corners, n - 4).round(3)
        floor = cv2.perspectiveTransform(image[None], h)[0]
        floor = floor + rng.normal(0.0, 1.0, floor.shape) * noise
        wrong = rng.choice(np.arange(4, n), false, replace=False) if false else []
        for i in wrong:
            floor[i] += rng.choice([-1, 1], 2) * rng.uniform(2, 6, 2)
        floor = floor.round(6)
        if false:
            fit, mask = cv2.findHomography(image, floor, cv2.RANSAC, 0.1, maxIters=5000)
            used = [bool(m) for m in mask.ravel()]
            fit, _ = cv2.findHomography(image[used], floor[used], 0)
        else:
            fit, _ = cv2.findHomography(image, floor, 0)
            used = [True] * n
        probes = spread(corners, 5)[4:].round(3)
        homographies.append({
            "kind": kind,
            "image": image.tolist(),
            "floor": floor.tolist(),
            "used": used,
            "probes": probes.tolist(),
            "opencv": cv2.perspectiveTransform(probes[None], fit)[0].round(5).tolist(),
            "least": cv2.perspectiveTransform(
                probes[None], polished(fit, image[used], floor[used]))[0].round(7).tolist(),
        })
save("homography.json", homographies)

# Savitzky-Golay, the ends by the polynomial of the last window.
filters = []
for window, order in [(5, 2), (7, 2), (7, 3), (9, 4), (13, 2), (25, 5), (3, 1), (11, 0)]:
    for n in (window, window + 1, 60):
        values = np.cumsum(rng.normal(0, 0.1, n)).round(6)
        smooth = scipy.signal.savgol_filter(values, window, order, mode="interp")
        filters.append({
            "window": window,
            "order": order,
            "values": values.tolist(),
            # Ten decimals: processors differ in the fourteenth, and no value is that near a tie.
            "smooth": smooth.round(10).tolist(),
        })
save("savitzky-golay.json", filters)

# Dates and times of ISO 8601 in the forms that files have, and some that are none.
pick = random.Random(20260310)


def stamp():
    moment = datetime(1971, 1, 1) + timedelta(seconds=pick.randrange(0, 2_500_000_000))
    separator = pick.choice(["T", "T", "T", " "])
    basic = pick.random() < 0.15
    digits = pick.choice([0, 0, 1, 2, 3, 3, 6, 7, 9])
    text = moment.strftime("%Y%m%dT%H%M%S" if basic else f"%Y-%m-%d{separator}%H:%M:%S")
    if digits:
        text += pick.choice([".", ".", ".", ","]) if digits <= 6 and not basic else "."
        text += "".join(pick.choice("0123456789") for _ in range(digits))
    hours, minutes = pick.randrange(0, 14), pick.choice([0, 0, 30, 45])
    sign = pick.choice("+-")
    colon = "" if basic else ":"
    zone = pick.choice(["Z", "Z", "", f"{sign}{hours:02}{colon}{minutes:02}", f"{sign}{hours:02}"])
    return text + zone


def nanoseconds(text):
    """Since 1970 UTC; what has no zone is UTC. datetime holds six digits, so the rest is added."""
    head, digits = text.replace(",", "."), ""
    if "." in head:
        begin = head.index(".")
        end = begin + 1
        while end < len(head) and head[end].isdigit():
            end += 1
        digits = head[begin + 1:end]
        head = head[:begin] + head[end:]
    moment = datetime.fromisoformat(head)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=timezone.utc)
    whole = moment - datetime(1970, 1, 1, tzinfo=timezone.utc)
    seconds = whole.days * 86400 + whole.seconds
    return seconds * 10**9 + int(digits.ljust(9, "0") or 0)


instants = []
for _ in range(400):
    text = stamp()
    ns = nanoseconds(text)
    plain = text.replace(",", ".")
    again = pandas.Timestamp(plain)
    again = again.tz_localize("UTC") if again.tzinfo is None else again
    assert again.as_unit("ns").value == ns, (text, ns, again)
    instants.append([text, ns])
for text in ["2031-13-01T00:00:00Z", "2031-02-30T00:00:00Z", "2031-02-29T12:00:00+01:00",
             "2031-10-04T25:00:00Z", "2031-10-04T19:61:00Z", "2031-10-04T19:30:00+25:00",
             "31-10-04T19:30:00Z", "2031-1-4T19:30:00Z", "19:30:00Z",
             "tomorrow", "", "2031-10-04T19:30:00ZZ"]:
    try:
        datetime.fromisoformat(text)
        raise SystemExit(f"{text} is a date after all")
    except ValueError:
        instants.append([text, None])
save("instants.json", instants)

# Columns of the types that other tools write, all with the same meaning.
frames, players = 12, ["7", "11", "23"]
start = datetime(2031, 10, 4, 19, 30, tzinfo=timezone.utc)
rows = [(f, p) for f in range(frames) for p in range(3)]
x = [200 * p + 40 * f + 12 for f, p in rows]
y = [300 + 100 * p - 10 * f for f, p in rows]
z = [180 + p for _, p in rows]
moments = [start + timedelta(seconds=f) for f, _ in rows]
naive = [m.replace(tzinfo=None) for m in moments]
names = [players[p] for _, p in rows]
teams = [["herons", "otters", "herons"][p] for _, p in rows]
table = pa.table({
    "frame_u16": pa.array([f for f, _ in rows], pa.uint16()),
    "frame_i8": pa.array([f for f, _ in rows], pa.int8()),
    "frame_decimal": pa.array([decimal.Decimal(f) for f, _ in rows], pa.decimal128(5, 0)),
    "at_s": pa.array(naive, pa.timestamp("s")),
    "at_ms": pa.array(naive, pa.timestamp("ms")),
    "at_us_zone": pa.array(moments, pa.timestamp("us", "Europe/Berlin")),
    "at_ns": pa.array(naive, pa.timestamp("ns")),
    "at_ns_zone": pa.array(moments, pa.timestamp("ns", "+02:00")),
    "at_text": pa.array([m.isoformat() for m in moments], pa.string()),
    "who_text": pa.array(names, pa.string()),
    "who_large": pa.array(names, pa.large_string()),
    "who_view": pa.array(names, pa.string_view()),
    "who_i8": pa.array([int(n) for n in names], pa.int8()),
    "who_u8": pa.array([int(n) for n in names], pa.uint8()),
    "who_category": pa.array(names).dictionary_encode(),
    "who_small_category": pa.DictionaryArray.from_arrays(
        pa.array([p for _, p in rows], pa.uint8()), pa.array(players, pa.large_string())),
    "side_category": pa.array(teams).dictionary_encode(),
    "x_i16": pa.array(x, pa.int16()),
    "x_u16": pa.array(x, pa.uint16()),
    "x_u32": pa.array(x, pa.uint32()),
    "x_i64": pa.array(x, pa.int64()),
    "x_f32": pa.array(x, pa.float32()),
    "x_decimal": pa.array([decimal.Decimal(v) / 100 * 100 for v in x], pa.decimal128(9, 2)),
    "y_i16": pa.array(y, pa.int16()),
    "z_u8": pa.array(z, pa.uint8()),
    "list": pa.array([[1, 2]] * len(rows), pa.list_(pa.int32())),
    "length": pa.array([timedelta(seconds=1)] * len(rows), pa.duration("us")),
    "day": pa.array([start.date()] * len(rows), pa.date32()),
})
pyarrow.parquet.write_table(table, out / "columns.parquet", compression="zstd")
with pa.ipc.new_file(out / "columns.arrow", table.schema) as f:
    f.write_table(table)
with pa.ipc.new_stream(out / "columns.arrows", table.schema) as f:
    f.write_table(table)
save("columns.json", {"frame": [f for f, _ in rows], "who": names, "team": teams,
                      "x": x, "y": y, "z": z})

# A Moving Features document of another writer.
points = pandas.DataFrame({
    "shirt": [n for n in names], "side": teams,
    "at": naive, "x": [v / 100 - 5 for v in x], "y": [v / 100 - 4 for v in y],
    "pulse": [90.0 + f for f, _ in rows],
})
frame = geopandas.GeoDataFrame(points[["shirt", "side", "at", "pulse"]],
                               geometry=geopandas.points_from_xy(points.x, points.y))
document = movingpandas.gdf_to_mf_json(frame, "shirt", "at", temporal_columns=["pulse"],
                                       datetime_to_str=True, interpolation="Linear")
save("theirs.mfjson", document)
save("theirs.json", points.drop(columns="at").to_dict("list"))

# The examples of the Moving Features standard, and what they say in seconds from each one's start.
examples = {"standard-prism": moving_features.prism_example(),
            "standard-trajectory": moving_features.trajectory_example()}
for name, example in examples.items():
    save(f"{name}.mfjson", example)
seconds = lambda times: [(pandas.Timestamp(t) - pandas.Timestamp(times[0])).total_seconds() for t in times]
save("standard.json", {
    "prism": {"t": seconds(moving_features.PRISM_TIMES), "at": moving_features.PRISM_POSITIONS},
    "trajectory": {walker: {"t": seconds([f"2012-01-17T{t}Z" for t in times]), "at": line}
                   for walker, (times, line, _) in moving_features.WALKS.items()},
})

# MOTChallenge text, and what its metrics' loader makes of it. The loader counts pixels from 0,
# the text from 1.
lines = []
for f in range(1, 9):
    for p in (1, 2, 5):
        box = [500 + 40 * p + 3.5 * f, 300 + 11.25 * p - f, 40 + p, 110.5 - p]
        lines.append(",".join(str(v) for v in [f, p, *box, 1, -1, -1, -1]))
(out / "boxes.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
loaded = motmetrics.io.loadtxt(out / "boxes.txt", fmt="mot15-2D")
save("boxes.json", [
    [int(f), int(i), float(r.X) + 1, float(r.Y) + 1, float(r.Width), float(r.Height)]
    for (f, i), r in loaded.iterrows()
])
