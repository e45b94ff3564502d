"""Writes the captures of a drawn lamp, and the truth beside them."""

import dataclasses
import hashlib
import json
import pathlib

import simulator
from simulator.instrument import record, seen_current
from simulator.recording import figures, simulate

import draw


def generate(folder: pathlib.Path, seed, index):
    """Makes folder/NAME/{steady,turn_on,leading_edge,trailing_edge}.csv and truth.json, unless this very program made them
    before. Returns the lamp's folder."""
    case = draw.draw(seed, index)
    place = folder / case.name
    truth_file = place / "truth.json"
    origin = {"seed": seed, "index": index, "generator": _digest()}
    if truth_file.exists() and json.loads(truth_file.read_text())["origin"] == origin:
        return place
    place.mkdir(parents=True, exist_ok=True)
    truth_file.unlink(missing_ok=True)
    captures = {}
    for number, (name, plan) in enumerate(case.plans.items()):
        wave = simulate(case.lamp, case.supply, plan)
        instrument = case.instruments[name]
        trace = record(wave, plan.cycles * case.supply.period_s, instrument, (seed, index, number))
        file = f"{name}.csv"
        with open(place / file, "w", encoding="ascii") as out:
            out.write("time_s,voltage_v,current_a\n")
            for row in zip(trace.time_s, trace.voltage_v, trace.current_a):
                out.write("%.9g,%.7g,%.7g\n" % row)
        captures[file] = {"kind": plan.kind, "conduction_angle_deg": plan.switch.angle_deg,
                          "holding_a": plan.switch.holding_a, "supply_side": plan.supply_side,
                          "exact": figures(wave, plan, case.supply),
                          "in_band": figures(seen_current(wave, instrument), plan, case.supply), "voltage_step_v": trace.voltage_step_v,
                          "current_step_a": trace.current_step_a, "instrument": dataclasses.asdict(instrument)}
        if name == "steady":
            truth = case.lamp.truth(wave.internals, case.supply)
    truth_file.write_text(json.dumps({"origin": origin, "name": case.name, "nominal_voltage_v": case.nominal_v,
                                      "nominal_frequency_hz": case.nominal_hz, **truth,
                                      "supply": dataclasses.asdict(case.supply), "captures": captures}, indent=1) + "\n")
    return place


def _digest():
    """Of everything that the captures depend on."""
    files = [*pathlib.Path(simulator.__file__).parent.glob("*.py"), *pathlib.Path(__file__).parent.glob("*.py")]
    total = hashlib.sha256()
    for file in sorted(files):
        if file.name not in ("score.py", "layouts.py", "boathouse.py", "table.py"):
            total.update(file.read_bytes())
    return total.hexdigest()[:16]
