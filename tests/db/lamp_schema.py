#!/usr/bin/python3
"""Holds lamp model files against docs/formats/lamp.schema.json with an independent validator (python3-jsonschema)."""

import copy
import json
import pathlib
import re
import sys

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs/formats/lamp.schema.json").read_text())
GOLDEN = {path.name: json.loads(path.read_text()) for path in sorted((ROOT / "tests/db/golden").glob("lamp_*.json"))}
FIRST = GOLDEN["lamp_1_0.json"]


def changed(path, value):
    document = copy.deepcopy(FIRST)
    *parents, last = [int(name) if name.isdigit() else name for name in path.split(".")]
    place = document
    for name in parents:
        place = place[name]
    if value is None:
        del place[last]
    else:
        place[last] = value
    return document


BAD = [changed(path, value) for path, value in [
    ("format", "lampload-channel"), ("format_version", "1.2"), ("lamps", None), ("more", 1), ("lamps.0.name", ""),
    ("lamps.0.name", "a\nb"), ("lamps.0.name", "a\x1b[2J"), ("lamps.0.notes", "a\x9bb"), ("lamps.0.name", "a\u202eb"),
    ("lamps.0.digest", None), ("lamps.0.digest", "A" * 64), ("lamps.0.famly", 1), ("lamps.0.fit.seed", 5),
    ("lamps.0.fit.residual_rms_a", "1"), ("lamps.0.fit.covariance", [1]), ("lamps.0.signature.algorithm", "rsa"),
    ("lamps.0.captures.0.waveform.voltage_v", "x"), ("lamps.0.captures.0.sample_count", 1.5),
    ("lamps.0.label.base", "E27"), ("lamps.0.record_version", "1.1"),  # of a later version than the rest says
    ("lamps.0.captures.0.figures.cut.edge", "rising"), ("lamps.0.fit.fitted.time_utc", "now"),
]]

SECOND = GOLDEN["lamp_1_1.json"]
for base in ("e27", "E 27", "27", "GU10 halogen", "E27/", ""):
    document = copy.deepcopy(SECOND)
    document["lamps"][0]["label"]["base"] = base
    BAD.append(document)

jsonschema.Draft202012Validator.check_schema(SCHEMA)
validator = jsonschema.Draft202012Validator(SCHEMA)
good = dict(GOLDEN)
page = (ROOT / "docs/formats/lamp.md").read_text()
good["the page's example"] = json.loads(re.search(r"```json\n(.*?)```", page, re.S).group(1))
faults = []
for name, document in good.items():
    faults += [f"{name} should be accepted: {fault.message[:300]}" for fault in validator.iter_errors(document)]
faults += [f"should be refused: change {index}" for index, document in enumerate(BAD) if validator.is_valid(document)]
print("\n".join(faults) or f"{len(good)} accepted, {len(BAD)} refused, as they should be")
sys.exit(1 if faults else 0)
