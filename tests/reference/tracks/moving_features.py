"""The rules of OGC 19-045r3 (Moving Features JSON 1.0) for what our writer and reader use, in our own
words as JSON schemas, and the values of the standard's examples.

Rules: the members that an object must have and the kinds of their values, as the standard's tables and
its published schemas (spec/movingfeatures/json/1.0, prism and trajectory) give them. What no schema can
say is in `check_lengths`. Not here, as no session has them: moving lines, polygons and point clouds (only
that they are other types), orientations beyond their form, interpolation by an address's equations, and
what a reference system's name means.
"""

import copy

import pandas

NUMBER = {"type": "number"}
TEXT = {"type": "string"}


def record(required, **members):
    return {"type": "object", "required": required, "properties": members}


def several(items, least=0):
    return {"type": "array", "minItems": least, "items": items}


def one_of(*names):
    return {"enum": list(names)}


# GeoJSON (RFC 7946, 3.1.1): two numbers or more; a third is a height.
POSITION = several(NUMBER, 2)
# Instants as texts of RFC 3339; the prism encoding also takes milliseconds since 1970 (its example has some).
INSTANTS = {**several({"type": ["string", "integer"]}, 2), "uniqueItems": True}
INSTANT_TEXTS = {**several(TEXT, 2), "uniqueItems": True}
# 7.2.10, MotionCurve: five names, or an address.
CURVE = {"anyOf": [one_of("Discrete", "Step", "Linear", "Quadratic", "Cubic"),
                   {"type": "string", "pattern": "^https?://"}]}
# 7.2.2.1, ParametricValues: measures with a unit (three letters of UN/CEFACT or an address), texts, images.
BETWEEN = {"anyOf": [one_of("Discrete", "Step", "Linear", "Regression"),
                     {"type": "string", "pattern": "^https?://"}]}
UNIT = {"anyOf": [{"type": "string", "minLength": 3, "maxLength": 3},
                  {"type": "string", "pattern": "^https?://"}]}
PARAMETER = {"oneOf": [
    record(["type", "values"], type=one_of("Measure"), values=several({"type": ["number", "null"]}),
           form=UNIT, interpolation=BETWEEN, description=TEXT),
    record(["type", "values"], type=one_of("Text"), interpolation=BETWEEN, description=TEXT,
           values=several({"type": ["string", "boolean", "null"]})),
    record(["type", "values"], type=one_of("Image"), interpolation=BETWEEN, description=TEXT,
           values=several({"type": ["string", "null"]})),
]}
PARAMETERS = {**record(["datetimes"], datetimes=INSTANTS), "additionalProperties": PARAMETER}
SYSTEM = {"oneOf": [
    record(["type", "properties"], type=one_of("Name"),
           properties={**record(["name"], name=TEXT), "additionalProperties": False}),
    record(["type", "properties"], type=one_of("Link"),
           properties=record(["type", "href"], type=TEXT, href={"type": "string", "pattern": "^https?://"})),
]}
TRIPLE = {**several(NUMBER, 3), "maxItems": 3}
POINT = {
    **record(["type", "datetimes", "coordinates"], type=one_of("MovingPoint"), datetimes=INSTANTS,
             coordinates=several(POSITION, 2), interpolation=CURVE, crs=SYSTEM, trs=SYSTEM,
             base=record(["type", "href"], type=TEXT, href=TEXT),
             orientations=several(record(["scales", "angles"], scales=TRIPLE, angles=TRIPLE))),
    "dependentRequired": {"orientations": ["base"]},
}
GEOMETRY = {"oneOf": [POINT, record(["type", "prisms"], type=one_of("MovingGeometryCollection"),
                                    prisms=several(POINT), crs=SYSTEM, trs=SYSTEM)]}
PERIOD = {**several(TEXT, 2), "maxItems": 2, "uniqueItems": True}
SHARED = {"crs": SYSTEM, "trs": SYSTEM, "bbox": several(NUMBER, 4), "time": PERIOD}
# 7.2, MF-JSON Prism.
PRISM_FEATURE = record(["type", "temporalGeometry"], type=one_of("Feature"), id={"type": ["string", "number"]},
                       temporalGeometry=GEOMETRY, temporalProperties=several(PARAMETERS),
                       geometry={"type": ["object", "null"]}, properties={"type": ["object", "null"]}, **SHARED)
PRISM = {"anyOf": [PRISM_FEATURE, record(["type", "features"], type=one_of("FeatureCollection"),
                                         features=several(PRISM_FEATURE, 1), **SHARED)]}
# 7.1, MF-JSON Trajectory: GeoJSON line strings whose positions `properties.datetimes` times.
LINE = record(["type", "geometry", "properties"], type=one_of("Feature"), id={"type": ["string", "number"]},
              geometry=record(["type", "coordinates"], type=one_of("LineString"),
                              coordinates=several(POSITION, 2)),
              properties=record(["datetimes"], datetimes=INSTANT_TEXTS))
TRAJECTORY = {"anyOf": [LINE, record(["type", "features"], type=one_of("FeatureCollection"),
                                     features=several(LINE))]}


def check_lengths(feature):
    """As many instants as positions, increasing; as many values as instants."""
    def instants(times):
        read = [pandas.Timestamp(t) if isinstance(t, str) else pandas.Timestamp(t, unit="ms", tz="UTC")
                for t in times]
        assert all(a < b for a, b in zip(read, read[1:])), "instants increase"

    geometry = feature.get("temporalGeometry")
    if geometry is None:
        times = feature["properties"]["datetimes"]
        assert len(times) == len(feature["geometry"]["coordinates"])
        instants(times)
        return
    for prism in geometry.get("prisms", [geometry]):
        assert len(prism["datetimes"]) == len(prism["coordinates"])
        assert len(prism.get("orientations", prism["datetimes"])) == len(prism["datetimes"])
        instants(prism["datetimes"])
    for group in feature.get("temporalProperties", []):
        instants(group["datetimes"])
        for name, values in group.items():
            assert name == "datetimes" or len(values["values"]) == len(group["datetimes"]), name


def broken(document):
    """The same document with one rule broken, for every rule that a schema can say; its first feature is
    of the prism encoding, with values over time."""
    def change(way, value=None):
        other = copy.deepcopy(document)
        *path, last = way
        place = other
        for step in path:
            place = place[step]
        if value is None:
            del place[last]
        else:
            place[last] = value
        return ".".join(map(str, way)), other

    first = ("features", 0) if "features" in document else ()
    shape, values = (*first, "temporalGeometry"), (*first, "temporalProperties", 0)
    measure = (*values, next(n for n in document_at(document, values) if n != "datetimes"))
    yield change(("type",))
    yield change(("type",), "Collection")
    yield change(("crs",), {"type": "Name", "properties": {}})
    yield change((*first, "type"), "MovingFeature")
    yield change((*first, "id"), ["a"])
    yield change(shape)
    yield change((*shape, "type"), "Point")
    for member in ("type", "datetimes", "coordinates"):
        yield change((*shape, member))
    yield change((*shape, "datetimes"), ["2011-07-14T22:01:01Z"])
    yield change((*shape, "datetimes"), ["2011-07-14T22:01:01Z"] * 2)
    yield change((*shape, "coordinates"), [[1.0, 2.0]])
    yield change((*shape, "coordinates", 0), [1.0])
    yield change((*shape, "coordinates", 0), ["1", "2"])
    yield change((*shape, "interpolation"), "Spline")
    yield change((*values, "datetimes"))
    yield change((*measure, "type"), "Number")
    yield change((*measure, "values"))
    yield change((*measure, "values", 0), "one")
    yield change((*measure, "form"), "second")
    yield change((*measure, "interpolation"), "Cubic")


def document_at(document, way):
    for step in way:
        document = document[step]
    return document


# The examples' values: instants on 14 July 2011 from 22:01:01 on, a second apart, and where the moving point
# is; measures over their own instants; what its properties say (7.2, example of a moving point).
PRISM_TIMES = [f"2011-07-14T22:01:0{s}Z" for s in range(1, 6)]
PRISM_POSITIONS = [[139.757083, 35.627701, 0.5], [139.757399, 35.627701, 2.0], [139.757555, 35.627688, 4.0],
                   [139.757651, 35.627596, 4.0], [139.757716, 35.627483, 4.0]]
GEOGRAPHIC = {"type": "Name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}


def prism_example():
    turn = [[0, 0, 0], [0, 5, 0], [0, 0, 30], [0, 0, 60], [0, 0, 90]]
    return {
        "type": "Feature",
        "id": "A",
        "temporalGeometry": {
            "type": "MovingPoint", "interpolation": "Linear",
            "datetimes": PRISM_TIMES, "coordinates": PRISM_POSITIONS,
            "base": {"type": "glTF",
                     "href": "http://www.opengis.net/spec/movingfeatures/json/1.0/prism/example/car3dmodel.gltf"},
            "orientations": [{"scales": [1, 1, 1], "angles": a} for a in turn],
        },
        "temporalProperties": [
            {"datetimes": ["2011-07-14T22:01:01.450Z", "2011-07-14T23:01:01.450Z", "2011-07-15T00:01:01.450Z"],
             "length": {"type": "Measure", "form": "http://www.qudt.org/qudt/owl/1.0.0/quantity/Length",
                        "values": [1.0, 2.4, 1.0], "interpolation": "Linear"},
             "message": {"type": "Text", "values": ["A", "B", "C"], "interpolation": "Discrete"}},
            {"datetimes": [1465621816590, 1465711526300],
             "discharge": {"type": "Measure", "form": "MQS", "values": [3.0, 4.0]}},
        ],
        "geometry": {"type": "LineString", "coordinates": PRISM_POSITIONS},
        "properties": {"name": "car1", "state": "test1"},
        "bbox": [139.757083, 35.627483, 0.0, 139.757716, 35.627701, 4.5],
        "time": ["2011-07-14T22:01:01Z", "2011-07-15T01:11:22Z"],
        "trs": {"type": "Link", "properties": {
            "type": "OGCDEF", "href": "http://www.opengis.net/def/uom/ISO-8601/0/Gregorian"}},
    }


# Two walkers of 17 January 2012 (7.1, example of trajectories).
WALKS = {
    "A": (["12:33:51", "12:33:56", "12:34:00"], [[11.0, 2.0], [12.0, 3.0], [10.0, 3.0]],
          {"state": ["walking", "walking"], "typecode": [1, 2]}),
    "B": (["12:33:51", "12:34:00"], [[10.0, 2.0], [11.0, 3.0]], {"state": ["walking"], "typecode": [2]}),
}


def trajectory_example():
    return {"type": "FeatureCollection", "features": [
        {"type": "Feature", "id": walker,
         "properties": {"datetimes": [f"2012-01-17T{t}Z" for t in times], **more},
         "geometry": {"type": "LineString", "coordinates": line}}
        for walker, (times, line, more) in WALKS.items()
    ]}
