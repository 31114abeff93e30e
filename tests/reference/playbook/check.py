"""Compares `setdrift schema` with `setdrift check` on good and damaged playbooks.

An editor that knows the schema must never mark what the program reads, and should mark most of the
damage to structure. What is wrong inside a sentence is for the program alone.
"""

import copy
import json
import pathlib
import random
import subprocess
import sys
import tempfile
import tomllib

import jsonschema
import tomli_w

program = sys.argv[1]
schema = json.loads(subprocess.run([program, "schema"], check=True, capture_output=True).stdout)
jsonschema.Draft202012Validator.check_schema(schema)
validator = jsonschema.Draft202012Validator(schema)

books = sorted(pathlib.Path("notebooks-free-examples/playbooks").glob("*.toml"))
books.append(pathlib.Path("sample-tracks/lantern.toml"))
folder = tempfile.TemporaryDirectory()
scaffold = pathlib.Path(folder.name) / "new.toml"
subprocess.run([program, "new", str(scaffold)], check=True, capture_output=True)
books.append(scaffold)


def accepted(book):
    """Whether the program reads it."""
    path = pathlib.Path(folder.name) / "trial.toml"
    path.write_text(tomli_w.dumps(book), encoding="utf-8")
    return subprocess.run([program, "check", str(path)], capture_output=True).returncode == 0


def places(value, path=()):
    """Every place in a document."""
    yield path
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from places(inner, (*path, key))
    if isinstance(value, list):
        for i, inner in enumerate(value):
            yield from places(inner, (*path, i))


def damaged(book, rng):
    """The document with one thing at one place removed, replaced or added."""
    book = copy.deepcopy(book)
    path = rng.choice([p for p in places(book) if p])
    at = book
    for key in path[:-1]:
        at = at[key]
    match rng.randrange(4):
        case 0:
            del at[path[-1]]
        case 1:
            at[path[-1]] = rng.choice([True, 3, 2.5, -1, "", "top", [], {}, ["top"], [[]], [[1]]])
        case 2 if isinstance(at[path[-1]], list) and at[path[-1]]:
            at[path[-1]] = at[path[-1]][0]
        case 2:
            at[path[-1]] = [at[path[-1]]]
        case _ if isinstance(at[path[-1]], dict):
            at[path[-1]]["unheard of"] = 1
        case _ if isinstance(at, dict):
            at["unheard of"] = at.pop(path[-1])
        case _:
            at.append(at[path[-1]])
    return book


failures, tried, both, good = [], 0, 0, 0
rng = random.Random(20)
for path in books:
    book = tomllib.loads(path.read_text(encoding="utf-8"))
    for error in validator.iter_errors(book):
        failures.append(f"{path.name}: the schema refuses it: {error.message[:100]}")
    for _ in range(60):
        trial = damaged(book, rng)
        tried += 1
        reads, marks = accepted(trial), [e.message for e in validator.iter_errors(trial)]
        good += reads
        both += not reads and bool(marks)
        if reads and marks:
            failures.append(f"{path.name}: the program reads what the schema refuses: {marks[0][:160]}")

print("\n".join(failures[:20]))
refused = tried - good
print(f"{tried} damaged playbooks: the program reads {good}; of the {refused} others the schema marks {both}")
# Damage to words and to names of roles and options is not the schema's to see.
if failures or good < 20 or both < refused / 3:
    sys.exit(1)
