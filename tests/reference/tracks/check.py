"""Moving Features JSON as we write it: against the standard's rules and another reader."""

import csv
import json
import sys
import warnings
from pathlib import Path

warnings.filterwarnings("ignore")

import jsonschema
import movingpandas

import moving_features as mf

ours = Path(sys.argv[1])


def follows(document, schema):
    return jsonschema.Draft202012Validator(schema).is_valid(document)


for schema in (mf.PRISM, mf.TRAJECTORY):
    jsonschema.Draft202012Validator.check_schema(schema)

# The rules take what the standard shows, and nothing else that is written nearly so.
example = {**mf.prism_example(), "crs": mf.GEOGRAPHIC}
assert follows(example, mf.PRISM) and follows(mf.trajectory_example(), mf.TRAJECTORY)
assert not follows(mf.trajectory_example(), mf.PRISM) and not follows(example, mf.TRAJECTORY)
for feature in [example, *mf.trajectory_example()["features"]]:
    mf.check_lengths(feature)

document = json.loads((ours / "written.mfjson").read_text(encoding="utf-8"))
jsonschema.validate(document, mf.PRISM, jsonschema.Draft202012Validator)
for feature in document["features"]:
    mf.check_lengths(feature)
rules = 0
for whole in (example, document):
    for what, wrong in mf.broken(whole):
        assert not follows(wrong, mf.PRISM), what
        rules += 1
assert rules > 40, rules

# The same session as plain rows.
rows = {}
with (ours / "written.csv").open(encoding="utf-8") as f:
    for row in csv.DictReader(f):
        rows.setdefault(row["object"], []).append(
            (float(row["time_s"]), float(row["x_m"]), float(row["y_m"])))
read = movingpandas.read_mf_json(ours / "written.mfjson", "object")
assert len(read.trajectories) == len(rows)
for track in read:
    begin = track.df.index[0].normalize()
    expected = rows[track.id]
    assert len(track.df) == len(expected)
    for (at, row), (t, x, y) in zip(track.df.iterrows(), expected):
        assert abs((at - begin).total_seconds() - t) < 1e-6
        assert row.time_s == t and row.geometry.x == x and row.geometry.y == y
