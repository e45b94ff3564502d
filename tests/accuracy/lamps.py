"""Draws lamps of each family and simulates them once in ngspice, without any instrument: the study program draws as many
instruments from one waveform as it likes."""

import hashlib
import json
import pathlib

import numpy as np

import simulator
from simulator.ngspice import SimulationFailed
from simulator.recording import GRID_S, Plan, simulate
from simulator.supply import Supply
from simulator.switch import Switch

import draw

# Kinds of draw.draw_lamp that make up a family.
FAMILIES = {
    "resistor": ("resistor",),
    "filament": ("filament", "halogen"),
    "rectifier_capacitor": ("constant_power", "chain", "constant_current"),
    "capacitive_dropper": ("dropper",),
    "linear_driver": ("linear_driver",),
    "corrected_driver": ("corrected_driver",),
    "inductive": ("winding", "transformer"),
}


def generate(folder: pathlib.Path, seed, family, index):
    """Writes folder/FAMILY_INDEX/{NAME.f32, truth.json} unless this very program made them before. NAME.f32: voltage and
    current in turn, as 32-bit floats on a grid of GRID_S. Returns the lamp's folder, or None where the circuit simulator
    gives up."""
    place = folder / f"{family}_{index:03d}"
    truth_file = place / "truth.json"
    origin = {"seed": seed, "index": index, "generator": _digest()}
    if truth_file.exists() and json.loads(truth_file.read_text())["origin"] == origin:
        return place
    place.mkdir(parents=True, exist_ok=True)
    truth_file.unlink(missing_ok=True)
    kinds = FAMILIES[family]
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, list(FAMILIES).index(family), index])))
    nominal_v, nominal_hz = (230.0, 50.0) if rng.random() < 0.7 else (120.0, 60.0)
    supply = Supply(nominal_v * rng.uniform(0.97, 1.03), nominal_hz, rng.uniform(0.1, 0.8), rng.uniform(1e-4, 9e-4),
                    rng.uniform(0, 0.01), rng.uniform(0, 0.015))
    kind = kinds[index % len(kinds)]
    lamp = draw.draw_lamp(rng, kind, nominal_v, nominal_hz)
    captures = []
    for name, plan in _plans(rng, family).items():
        try:
            wave = simulate(lamp, supply, plan)
        except SimulationFailed:
            return None
        np.stack([wave.voltage_v, wave.current_a], axis=1).astype("<f4").tofile(place / f"{name}.f32")
        captures.append({"file": f"{name}.f32", "kind": plan.kind, "grid_s": GRID_S, "first_s": float(wave.time_s[0]),
                         "duration_s": plan.cycles * supply.period_s, "conduction_angle_deg": plan.switch.angle_deg})
        if name == "steady":
            truth = lamp.truth(wave.internals, supply)
            whole = round(round(supply.period_s / GRID_S) * int(plan.cycles))
            truth["terminal_power_w"] = float(np.mean((wave.voltage_v * wave.current_a)[-whole:]))
    truth_file.write_text(json.dumps({"origin": origin, "name": place.name, "kind": kind, "nominal_voltage_v": nominal_v,
                                      "nominal_frequency_hz": nominal_hz, **truth, "captures": captures}, indent=1) + "\n")
    return place


def _plans(rng, family):
    """Short records: a steady one, then what shows the most of the family."""
    leading = Plan(Switch("leading", float(rng.uniform(75, 130)), choke_h=float(np.exp(rng.uniform(np.log(50e-6), np.log(1e-3)))),
                          bleed_ohm=47e3), 4, rng.uniform(0, 360))
    trailing = Plan(Switch("trailing", float(rng.uniform(75, 130)), slope_s=rng.uniform(30e-6, 120e-6), bleed_ohm=47e3), 4,
                    rng.uniform(0, 360))
    turn_on = Plan(Switch("turn_on"), 8 if family == "filament" else 4, rng.uniform(0, 360), rng.uniform(0.6, 0.9))
    steady = Plan(Switch(), 4, rng.uniform(0, 360))
    if family == "inductive":  # a cut would chop its current
        return {"steady": steady, "turn_on": turn_on, "turn_on_again": Plan(Switch("turn_on"), 4, rng.uniform(0, 360), 0.7)}
    if family == "corrected_driver":
        return {"steady": steady, "leading_edge": leading, "trailing_edge": trailing}
    edge = {"leading_edge": leading} if rng.random() < 0.5 else {"trailing_edge": trailing}
    return {"steady": steady, "turn_on": turn_on, **edge}


def _digest():
    """Of everything that the waveforms depend on."""
    folder = pathlib.Path(simulator.__file__).parent
    files = [folder / f"{name}.py" for name in ("corrected_driver", "dropper", "filament", "linear_driver", "ngspice", "recording",
                                               "rectifier", "resistor", "supply", "switch", "tungsten", "winding")]
    total = hashlib.sha256()
    for file in [*files, pathlib.Path(draw.__file__), pathlib.Path(__file__)]:
        total.update(file.read_bytes())
    return total.hexdigest()[:16]
