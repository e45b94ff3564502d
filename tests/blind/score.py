"""Lets the program characterise the drawn lamps, and compares its answers with the truth.

Truth: rms values, power and peaks are those of the exact waveform, before the instrument. Where the clamp's bandwidth alone moves
a current by more than 1 % (an interference capacitor charged within microseconds), no program can know it: such figures are listed
in rows of their own, without a goal. The series resistance of a bridge is compared
together with the reservoir's own where the program does not tell the two apart. Parameters whose true value is 0 have no
relative error and are left out, and so are those that the program itself calls not identified."""

import json
import math
import pathlib
import subprocess
import sys
import tempfile
import time

# Quantity: largest relative error, None where there is no goal.
GOALS = {
    "rms voltage": 0.01, "rms current": 0.04, "power": 0.03, "peak current": 0.06, "inrush peak": 0.06,
    "rms current, beyond clamp": None, "peak, beyond clamp": None, "inrush peak, beyond clamp": None, "cut edge": 0.0, "family": 0.0, "load law": 0.0, "accepted": 0.0,
    "resistance_ohm": 0.02, "cold_resistance_ohm": 0.05, "hot_resistance_ohm": 0.02, "heat_capacity_j_per_k": 0.08,
    "hot_temperature_k": 0.03, "rated_power_w": 0.03, "series_resistance_ohm": 0.05, "reservoir_capacitance_f": 0.03,
    "load_power_w": 0.03, "load_current_a": 0.03, "string_voltage_v": 0.04, "string_resistance_ohm": None,
    "input_capacitance_f": None, "series_inductance_h": None, "rectifier_drop_v": None, "reservoir_esr_ohm": None}
COVERAGE_GOAL = 0.9
TIME_LIMIT_S = 120


def score(program, places):
    """Prints the table. Returns 0 if every goal holds, otherwise 1."""
    board = {name: {"errors": [], "covered": [], "unidentified": 0} for name in GOALS}
    failures = []
    for place in places:
        truth = json.loads((place / "truth.json").read_text())
        began = time.monotonic()
        answer, complaint = _characterise(program, place, truth)
        took = time.monotonic() - began
        if answer is None:
            failures.append(f"{place.name}: {complaint}")
            print(f"{place.name:24} {took:6.1f} s  failed: {complaint}", file=sys.stderr)
            continue
        _compare_figures(board, truth, answer)
        remarks = _compare_fit(board, truth, answer.get("fit") or {})
        print(f"{place.name:24} {took:6.1f} s  {remarks}", file=sys.stderr)
    held = _print(board, failures, len(places))
    return 0 if held else 1


def _characterise(program, place, truth):
    with tempfile.TemporaryDirectory(prefix="lampload_blind_library_") as folder:
        command = [str(program), "characterise", *(str(place / file) for file in truth["captures"]), "--lamp", truth["name"],
                   "--nominal-voltage", f"{truth['nominal_voltage_v']:g}",
                   "--nominal-frequency", f"{truth['nominal_frequency_hz']:g}",
                   "--library", str(pathlib.Path(folder) / "library.db"), "--json"]
        try:
            run = subprocess.run(["nice", "-n", "5", *command], capture_output=True, text=True, timeout=TIME_LIMIT_S, check=False)
        except subprocess.TimeoutExpired:
            return None, f"no answer within {TIME_LIMIT_S} s"
    try:
        if run.returncode not in (0, 1):
            raise ValueError
        return json.loads(run.stdout), ""
    except ValueError:
        lines = run.stderr.strip().splitlines() or ["no message"]
        return None, f"exit status {run.returncode}, {lines[-1]}"


def _compare_figures(board, truth, answer):
    for shown in answer.get("captures", []):
        capture = truth["captures"][pathlib.Path(shown["file"]).name]
        exact, in_band, kind = capture["exact"], capture["in_band"], capture["kind"]
        if kind == "turn_on":
            inrush, true, passed = shown.get("inrush"), exact["inrush"]["peak_a"], in_band["inrush"]["peak_a"]
            name = "inrush peak" if _passes(passed, true) else "inrush peak, beyond clamp"
            _note(board[name], inrush["peak_a"] / true - 1 if inrush else math.inf)
            continue
        for name, beyond, key in (("rms voltage", "", "voltage_rms_v"), ("power", "", "active_power_w"),
                                  ("rms current", "rms current, beyond clamp", "current_rms_a"),
                                  ("peak current", "peak, beyond clamp", "current_peak_a")):
            row = beyond if beyond and not _passes(in_band[key], exact[key]) else name
            _note(board[row], shown[key] / exact[key] - 1)
        expected = {"steady": "none", "leading_edge": "leading", "trailing_edge": "trailing"}[kind]
        _note(board["cut edge"], 0.0 if shown["cut"]["edge"] == expected else 1.0)


def _passes(in_band, exact):
    return abs(in_band / exact - 1) < 0.01


def _compare_fit(board, truth, fit):
    """Returns a line for the reader: family found, and the parameters outside their goals."""
    family_right = fit.get("family") == truth["family"]
    _note(board["family"], 0.0 if family_right else 1.0)
    if not family_right:
        return f"family {fit.get('family')} instead of {truth['family']}"
    parameters, derived = fit.get("parameters", {}), fit.get("derived", {})
    law = truth["load_law"]
    if law:
        _note(board["load law"], 0.0 if law in parameters else 1.0)
    outside = [] if not law or law in parameters else [f"load law is not {law}"]
    accepted = fit.get("accepted", True)
    _note(board["accepted"], 0.0 if accepted else 1.0)
    if not accepted:
        outside.append("not accepted")
    true_values = {**truth["parameters"], **truth["derived"]}
    esr = parameters.get("reservoir_esr_ohm", {})
    if esr and not (esr.get("identified", True) and _width(esr) > 0):
        true_values["series_resistance_ohm"] += true_values["reservoir_esr_ohm"]
        esr["identified"] = False
    for name, true in true_values.items():
        found = parameters.get(name) or derived.get(name)
        if name not in board or found is None or true == 0:
            continue
        if not found.get("identified", True):
            board[name]["unidentified"] += 1
            continue
        error = found["value"] / true - 1
        low, high = found["interval_95"]
        covered = low <= true <= high
        _note(board[name], error, covered)
        if (GOALS[name] is not None and abs(error) > GOALS[name]) or not covered:
            outside.append(f"{name} {100 * error:+.1f} %{'' if covered else ' not covered'}")
    return "; ".join(outside) or "all within goals and intervals"


def _width(estimate):
    low, high = estimate["interval_95"]
    return high - low


def _note(entry, error, covered=None):
    entry["errors"].append(abs(error))
    if covered is not None:
        entry["covered"].append(covered)


def _print(board, failures, lamps):
    print(f"{'quantity':26}{'number':>7}{'median %':>10}{'9 of 10 %':>11}{'largest %':>11}{'goal %':>8}{'within':>8}"
          f"{'covered':>9}{'unidentified':>14}")
    held = not failures
    for name, entry in board.items():
        errors, goal = sorted(entry["errors"]), GOALS[name]
        if not errors and not entry["unidentified"]:
            continue
        cells = [f"{name:26}{len(errors):7}"]
        cells += [f"{100 * _quantile(errors, share):{width}.2f}" if errors else " " * width
                  for share, width in ((0.5, 10), (0.9, 11), (1.0, 11))]
        within = sum(error <= goal for error in errors) / len(errors) if errors and goal is not None else None
        cells.append(f"{100 * goal:8.1f}{100 * within:7.0f}%" if within is not None else f"{'-':>8}{'-':>8}")
        covered = entry["covered"]
        cells.append(f"{100 * sum(covered) / len(covered):8.0f}%" if covered else f"{'-':>9}")
        cells.append(f"{entry['unidentified']:14}" if entry["unidentified"] else f"{'-':>14}")
        print("".join(cells))
        held = held and (within is None or within == 1)
    covered = [hit for entry in board.values() for hit in entry["covered"]]
    if covered:
        share = sum(covered) / len(covered)
        print(f"\n95 % intervals that hold the truth: {sum(covered)} of {len(covered)} ({100 * share:.0f} %; "
              f"goal {100 * COVERAGE_GOAL:.0f} %)")
        held = held and share >= COVERAGE_GOAL
    print(f"lamps answered: {lamps - len(failures)} of {lamps}")
    for failure in failures:
        print(f"  {failure}")
    print("every goal holds" if held else "not every goal holds")
    return held


def _quantile(ordered, share):
    return ordered[min(len(ordered) - 1, math.ceil(share * len(ordered)) - 1 if share < 1 else len(ordered) - 1)]
