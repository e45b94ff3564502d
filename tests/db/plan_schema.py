#!/usr/bin/python3
"""Holds plan files against docs/formats/plan.schema.json with an independent validator (python3-jsonschema)."""

import copy
import json
import pathlib
import sys

import jsonschema

ROOT = pathlib.Path(__file__).resolve().parents[2]
FORMATS = ROOT / "docs/formats"
SCHEMA = json.loads((FORMATS / "plan.schema.json").read_text())
CHANNEL = json.loads((FORMATS / "channel.schema.json").read_text())
LEAST = {
    "format": "lampload-plan", "format_version": "1.0", "name": "boathouse",
    "boards": [{"name": "board", "supply": {"voltage_v": 230, "frequency_hz": 50},
                "breakers": [{"name": "F1", "curve": "B", "rating_a": 10}]}],
    "lamps": [{"name": "heater", "family": "resistor", "parameters": {"resistance_ohm": 500}}],
    "rooms": [{"name": "stairs", "channels": [
        {"name": "stairs", "library_channel": "dimmer", "lamps": [{"lamp": "candle", "count": 3}]}]}],
}


def changed(path, value):
    """value None: without it."""
    document = copy.deepcopy(LEAST)
    *parents, last = path.split(".")
    place = document
    for name in parents:
        place = place[int(name)] if name.isdigit() else place[name]
    if value is None:
        del place[last]
    else:
        place[last] = value
    return document


STAIRS = "rooms.0.channels.0"
BAD = [
    changed("format", "lampload-channel"), changed("format_version", "1.1"), changed("name", ""), changed("rooms", None),
    changed("rooms", []), changed("shelf", 1), changed("boards.0.name", None), changed("boards.0.breakers", None),
    changed("boards.0.supply.voltage_v", None), changed("boards.0.supply.volt", 3), changed("boards.0.breakers.0.curve", "K"),
    changed("boards.0.breakers.0.rating_a", 0), changed("boards.0.breakers.0.stagger_s", 61), changed("lamps.0.family", 3),
    changed("lamps.0.parameters.resistance_ohm", "500"), changed(f"{STAIRS}.lamps", []), changed(f"{STAIRS}.library_channel", None),
    changed(f"{STAIRS}.channel_file", "dimmer.json"), changed(f"{STAIRS}.mode", "trailing"), changed(f"{STAIRS}.lamps.0.count", 0),
    changed(f"{STAIRS}.lamps.0.count", 1.5), changed(f"{STAIRS}.lamps.0.lamp", None), changed(f"{STAIRS}.cable", {"length_m": 3}),
]
DESCRIBED = changed(f"{STAIRS}.library_channel", None)
DESCRIBED["rooms"][0]["channels"][0]["description"] = {"output": {"kind": "relay", "rated_current_a": 10}}
WRONG = copy.deepcopy(DESCRIBED)
WRONG["rooms"][0]["channels"][0]["description"]["output"]["kind"] = "lamp"
BAD.append(WRONG)

jsonschema.Draft202012Validator.check_schema(SCHEMA)
resolver = jsonschema.RefResolver(base_uri="", referrer=SCHEMA, store={"channel.schema.json": CHANNEL})
validator = jsonschema.Draft202012Validator(SCHEMA, resolver=resolver)
faults = []
good = [("least", LEAST), ("described", DESCRIBED)]
for path in sorted((ROOT / "sample_captures").glob("*.json")):
    document = json.loads(path.read_text())
    if isinstance(document, dict) and document.get("format") == "lampload-plan":
        good.append((path.name, document))
for name, document in good:
    faults += [f"{name} should be accepted: {fault.message}" for fault in validator.iter_errors(document)]
faults += [f"should be refused: {json.dumps(document)}" for document in BAD if validator.is_valid(document)]
if len(good) < 4:
    faults.append("the boathouse's plans were not found")
print("\n".join(faults) or f"{len(good)} accepted, {len(BAD)} refused, as they should be")
sys.exit(1 if faults else 0)
