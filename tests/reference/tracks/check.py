"""Moving Features JSON as we write it: against the standard's constraints and another reader."""

import csv
import json
import sys
import warnings
from pathlib import Path

warnings.filterwarnings("ignore")

import jsonschema
import movingpandas

ours = Path(sys.argv[1])

# The constraints of OGC 19-045r3 (MF-JSON 1.0, prism encoding), annex A, on what we write.
TIMES = {"type": "array", "minItems": 2, "uniqueItems": True,
         "items": {"type": "string", "format": "date-time"}}
POSITION = {"type": "array", "minItems": 2, "maxItems": 3, "items": {"type": "number"}}
MEASURE = {
    "type": "object",
    "required": ["type", "values"],
    "properties": {
        "type": {"enum": ["Measure"]},
        "values": {"type": "array", "items": {"type": ["null", "number"]}},
        "form": {"anyOf": [{"type": "string", "minLength": 3, "maxLength": 3},
                           {"type": "string", "format": "uri"}]},
        "interpolation": {"enum": ["Discrete", "Step", "Linear", "Regression"]},
    },
}
CRS = {
    "type": "object",
    "required": ["type", "properties"],
    "properties": {
        "type": {"enum": ["Name"]},
        "properties": {"type": "object", "required": ["name"], "additionalProperties": False,
                       "properties": {"name": {"type": "string"}}},
    },
}
FEATURE = {
    "type": "object",
    "required": ["type", "temporalGeometry"],
    "properties": {
        "type": {"enum": ["Feature"]},
        "id": {"type": ["string", "number"]},
        "properties": {"type": ["null", "object"]},
        "temporalGeometry": {
            "type": "object",
            "required": ["type", "datetimes", "coordinates"],
            "properties": {
                "type": {"enum": ["MovingPoint"]},
                "datetimes": TIMES,
                "coordinates": {"type": "array", "minItems": 2, "items": POSITION},
                "interpolation": {"enum": ["Discrete", "Step", "Linear", "Quadratic", "Cubic"]},
            },
        },
        "temporalProperties": {
            "type": "array",
            "items": {"type": "object", "required": ["datetimes"],
                      "properties": {"datetimes": TIMES}, "additionalProperties": MEASURE},
        },
    },
}
SCHEMA = {
    "$schema": "http://json-schema.org/draft-07/schema#",
    "type": "object",
    "required": ["type", "features"],
    "properties": {
        "type": {"enum": ["FeatureCollection"]},
        "features": {"type": "array", "minItems": 1, "items": FEATURE},
        "crs": CRS,
    },
}

document = json.loads((ours / "written.mfjson").read_text(encoding="utf-8"))
jsonschema.Draft7Validator.check_schema(SCHEMA)
jsonschema.validate(document, SCHEMA)
for feature in document["features"]:
    g = feature["temporalGeometry"]
    assert len(g["datetimes"]) == len(g["coordinates"]), feature["id"]
    assert g["datetimes"] == sorted(g["datetimes"]), "instants increase"
    for group in feature["temporalProperties"]:
        for name, values in group.items():
            assert name == "datetimes" or len(values["values"]) == len(group["datetimes"]), name

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
