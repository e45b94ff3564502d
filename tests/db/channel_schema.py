#!/usr/bin/python3
"""Holds channel files against docs/formats/channel.schema.json with an independent validator (python3-jsonschema)."""

import copy
import json
import pathlib
import sys

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs/formats/channel.schema.json").read_text())
LEAST = {
    "format": "lampload-channel", "format_version": "1.0", "name": "Stair",
    "supply": {"voltage_v": 120, "frequency_hz": 60},
    "output": {"kind": "phase_cut", "edges": ["leading"], "switch": "triac"},
}
STRIP = {"format": "lampload-channel", "format_version": "1.0", "name": "Racks", "output": {"kind": "dc_pwm"}}


def changed(path, value):
    document = copy.deepcopy(LEAST)
    *parents, last = path.split(".")
    place = document
    for name in parents:
        place = place.setdefault(name, {})
    if value is None:
        del place[last]
    else:
        place[last] = value
    return document


def newer(path, value):
    return changed(path, value) | {"format_version": "1.1"}


BAD = [
    changed("format", "lampload-lamp"), changed("format_version", "1.2"), changed("name", None), changed("name", ""),
    changed("name", "two\nlines"), changed("supply", None), changed("supply.voltage_v", None), changed("supply.voltage_v", "120 V"),
    changed("supply.voltage_v", 0), changed("supply.frequency", 60), changed("cable.length_m", 3), changed("breaker.curve", "K"),
    changed("output.kind", None), changed("output.kind", "dimmer"), changed("output.edges", []), changed("output.edges", ["rising"]),
    changed("output.edges", ["leading", "leading"]), changed("output.edges", ["trailing"]), changed("output.switch", "relay"),
    changed("output.kind", "relay"), changed("output.neutral", 1), changed("output.choke_h", 2.2), changed("output.rated_current", 2),
    changed("output.gate_pulse_s", 1e-4), changed("limits", {}), newer("output.parallel_chains", 1.5), newer("limits.harmonics", 1),
    newer("limits.voltage_drop", 3),
    changed("supply.dc_offset_v", 1), changed("supply.harmonics", []), newer("supply.dc_offset_v", 101), newer("supply.harmonics", 3),
    newer("supply.harmonics", [{"order": 3}]), newer("supply.harmonics", [{"percent": 3}]),
    newer("supply.harmonics", [{"order": 1, "percent": 3}]), newer("supply.harmonics", [{"order": 2.5, "percent": 3}]),
    newer("supply.harmonics", [{"order": 3, "percent": 3, "phase": 0}]),
]

jsonschema.Draft202012Validator.check_schema(SCHEMA)
validator = jsonschema.Draft202012Validator(SCHEMA)
faults = []
good = [("least", LEAST), ("strip", STRIP), ("newer", newer("limits.voltage_drop_percent", 3)),
        ("newer output", newer("output.gate_pulse_s", 1e-4)), ("newer supply", newer("supply.dc_offset_v", -1)),
        ("harmonics", newer("supply.harmonics", [{"order": 3, "percent": 3}, {"order": 5, "percent": 1, "phase_deg": 180}]))]
for path in sorted((ROOT / "sample_captures").glob("*.json")):
    document = json.loads(path.read_text())
    if isinstance(document, dict) and document.get("format") == "lampload-channel":
        good.append((path.name, document))
for name, document in good:
    faults += [f"{name} should be accepted: {fault.message}" for fault in validator.iter_errors(document)]
faults += [f"should be refused: {json.dumps(document)}" for document in BAD if validator.is_valid(document)]
print("\n".join(faults) or f"{len(good)} accepted, {len(BAD)} refused, as they should be")
sys.exit(1 if faults else 0)
