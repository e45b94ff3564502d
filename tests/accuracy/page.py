"""Judges the answers of the study, and writes docs/accuracy.md."""

import math
import pathlib
import statistics

# Where circuit and model agree; elsewhere the circuit has what the model has not (diode law, resistance of the reservoir, knees,
# the table behind the emissivity).
AGREEING = ("resistor", "inductive")
COVERAGE = (0.93, 0.97)
COVERAGE_DIFFERING = 0.90
EFFICIENCY = 1.2
FAMILY_RIGHT = 0.98
TAKEN_FOR_LAMP = 0.01
SLOWEST_S = 10.0
WRONG_POWER = 0.2  # of the power: a wrong answer
ADVICE_RIGHT = 0.9
ADVICE_TIE = 0.1  # widths that differ by less are the same, and where their noise is more by that
KNOWN_WELL_ENOUGH = 0.05  # widths below it ask for no capture, and are the same (fit/next_capture.cpp)
WORTH_A_CAPTURE = 0.8  # where nothing narrows the count to this share, none need be advised (fit/next_capture.cpp)
DECISIVE = 10.0  # distance of a rival (docs/fitting.md)


def write(path: pathlib.Path, lines, truths, options):
    """Returns the goals that are missed, one sentence each."""
    missed = []
    by_mode = {}
    for line in lines:
        by_mode.setdefault(line["mode"], []).append(line)
    sections = {
        "COVERAGE": _coverage(by_mode.get("own", []), truths, missed),
        "BOUND": _bound(by_mode.get("bound", []), missed),
        "CHOICE": _choice(by_mode.get("all", []), truths, missed),
        "STRANGE": _strange(by_mode.get("no_lamp", []), missed),
        "ADVICE": _advice(by_mode.get("advice", []), missed),
        "ODD": _odd(by_mode.get("odd", []), truths, missed),
    }
    sections["MISSED"] = "\n".join(f"- {one}" for one in missed) or "No goal is missed."
    sections["ADVICE_TIE"] = f"{100 * ADVICE_TIE:.0f} %"
    sections["EFFICIENCY"] = f"{EFFICIENCY:g}"
    sections["COMMAND"] = (f"tests/accuracy/run --lamps {options.lamps} --draws {options.draws} --choice-lamps {options.choice_lamps} --choices {options.choices} "
                           f"--odd {options.odd} --bound {options.bound} --strange {options.strange} --advice {options.advice} --seed {options.seed}")
    text = (pathlib.Path(__file__).parent / "page.md.in").read_text(encoding="utf-8")
    for name, section in sections.items():
        text = text.replace(f"@{name}@", section)
    path.write_text(text, encoding="utf-8")
    return missed


def _table(head, rows):
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows])


def _percent(share):
    return "-" if share is None else f"{100 * share:.1f} %"


def _share(hits):
    return sum(hits) / len(hits) if hits else None


def _family(line):
    return line["lamp"].rsplit("_", 1)[0]


def _coverage(lines, truths, missed):
    board, totals = {}, {}
    for line in lines:
        family = _family(line)
        total = totals.setdefault(family, {"lamps": set(), "fits": 0, "accepted": 0, "hits": {}, 8: [], 12: [], "absent": 0})
        total["lamps"].add(line["lamp"])
        total["fits"] += 1
        if not line.get("accepted"):
            continue
        total["accepted"] += 1
        for name, true, found in _compared(line, truths[line["lamp"]]):
            if true == 0:
                total["absent"] += found["identified"]
                continue
            entry = board.setdefault((family, name), {"covered": [], "errors": [], "widths": [], "unidentified": 0})
            if not found["identified"]:
                entry["unidentified"] += 1
                continue
            low, high = found["interval"]
            hit = low <= true <= high
            entry["covered"].append(hit)
            entry["errors"].append(abs(found["value"] / true - 1))
            entry["widths"].append(0.5 * (high - low) / abs(true))
            total["hits"].setdefault(line["lamp"], []).append(hit)
            total[line["bits"]].append(hit)
    rows = []
    for family, total in totals.items():
        hits = [hit for of_lamp in total["hits"].values() for hit in of_lamp]
        share = _share(hits)
        of_lamps = [_share(of_lamp) for of_lamp in total["hits"].values()]
        spread = statistics.stdev(of_lamps) / math.sqrt(len(of_lamps)) if len(of_lamps) > 1 else None
        low, high = COVERAGE if family in AGREEING else (COVERAGE_DIFFERING, 1.0)
        goal = f"{100 * low:.0f} to {100 * high:.0f} %" if family in AGREEING else f"{100 * low:.0f} % or more"
        rows.append((f"`{family}`", len(total["lamps"]), total["fits"], total["fits"] - total["accepted"], len(hits), _percent(share),
                     "-" if spread is None else f"{100 * spread:.1f}", _percent(_share(total[8])), _percent(_share(total[12])), goal,
                     total["absent"]))
        if share is not None and not low <= share <= high:
            missed.append(f"coverage of `{family}`: {_percent(share)} of {len(hits)} intervals (goal {goal})")
    first = _table(("family", "lamps", "fits", "refused", "intervals", "hold the truth", "± (lamps)", "8 bits", "12 bits", "goal",
                    "found, not there"), rows)
    rows = []
    for (family, name), entry in board.items():
        covered, number = _share(entry["covered"]), len(entry["covered"])
        rows.append((f"`{family}`", f"`{name}`", number, entry["unidentified"], _percent(covered),
                     _percent(statistics.median(entry["errors"])) if number else "-",
                     _percent(statistics.median(entry["widths"])) if number else "-"))
        low = COVERAGE[0] if family in AGREEING else COVERAGE_DIFFERING
        if number >= 20 and covered < low:
            missed.append(f"coverage of `{name}` of `{family}`: {_percent(covered)} of {number}")
    second = _table(("family", "parameter", "identified", "not identified", "hold the truth", "median error", "median half width"),
                    rows)
    return first + "\n\n" + second


def _compared(line, truth):
    """Name, truth and estimate of what can be compared. Terminals cannot tell the reservoir's resistance from the one in series
    with the bridge: while the former is held at 0, the latter is their sum."""
    parameters, derived = line["parameters"], line["derived"]
    true = {**truth["parameters"], **truth["derived"]}
    if "reservoir_esr_ohm" in true and not parameters["reservoir_esr_ohm"]["identified"]:
        true["series_resistance_ohm"] += true.pop("reservoir_esr_ohm")
    for name, value in true.items():
        found = parameters.get(name) or derived.get(name)
        if found is not None and value is not None:
            yield name, value, found


def _bound(lines, missed):
    board = {}
    refused = 0
    for line in lines:
        if "parameters" not in line:
            refused += 1
            continue
        for name, entry in line["bound"].items():
            # A tap above the crest has no bound: no capture depends on it.
            if line["parameters"][name]["identified"] and entry["bound_sd"] > 0:
                board.setdefault(line["lamp"], {}).setdefault(name, []).append(
                    (entry["error_in_bounds"], entry["half_interval_in_bounds"], entry["bound_sd"]))
    rows, inefficient = [], 0
    for lamp, parameters in board.items():
        for name, errors in parameters.items():
            rms = math.sqrt(statistics.fmean(error**2 for error, _, _ in errors))
            covered = _share([abs(error) <= half for error, half, _ in errors])
            rows.append((lamp, f"`{name}`", len(errors), f"{100 * statistics.median(bound for _, _, bound in errors):.3f} %", f"{rms:.2f}",
                         f"{statistics.median(abs(error) for error, _, _ in errors) / 0.6745:.2f}", _percent(covered)))
            inefficient += rms > EFFICIENCY
    if inefficient:
        missed.append(f"efficiency: {inefficient} of {len(rows)} parameters have an rms error above {EFFICIENCY} bounds")
    note = f"\n\n{refused} fits refused." if refused else ""
    return _table(("lamp", "parameter", "fits", "bound (1 σ)", "rms error, in bounds", "same from the median", "hold the truth"),
                  rows) + note


def _choice(lines, truths, missed):
    board = {}
    for line in lines:
        entry = board.setdefault(_family(line), {"right": [], "law": [], "accepted": [], "times": []})
        right = line.get("family") == _family(line)
        entry["right"].append(right)
        entry["accepted"].append(bool(line.get("accepted")))
        entry["times"].append(line.get("processor_s", 0))
        if right:
            entry["law"].append(line["load_law"] == line["true_load_law"])
    rows = [(f"`{family}`", len(entry["right"]), _percent(_share(entry["right"])), _percent(_share(entry["law"])),
             _percent(_share(entry["accepted"])), f"{statistics.median(entry['times']):.1f}") for family, entry in board.items()]
    every = [right for entry in board.values() for right in entry["right"]]
    if every:
        rows.append(("all", len(every), _percent(_share(every)), _percent(_share([x for e in board.values() for x in e["law"]])),
                     _percent(_share([x for e in board.values() for x in e["accepted"]])), ""))
        if _share(every) < FAMILY_RIGHT:
            missed.append(f"family right: {_percent(_share(every))} of {len(every)} (goal {_percent(FAMILY_RIGHT)})")
    return _table(("family", "fits", "family right", "load law right, of these", "accepted", "processor time [s]"), rows)


def _strange(lines, missed):
    board = {}
    for line in lines:
        entry = board.setdefault(line.get("kind", "crashed"), [])
        entry.append(line.get("family") if line.get("accepted") else None)
    rows, wrong = [], []
    for kind, answers in board.items():
        right = "inductive" if kind == "winding" else None
        taken = [answer for answer in answers if answer not in (None, right)]
        wrong += [answer not in (None, right) for answer in answers]
        rows.append((kind.replace("_", " "), len(answers), len(taken), ", ".join(f"`{one}`" for one in sorted(set(taken))) or "-"))
    if wrong and _share(wrong) > TAKEN_FOR_LAMP:
        missed.append(f"no lamps taken for one: {_percent(_share(wrong))} of {len(wrong)} (goal at most {_percent(TAKEN_FOR_LAMP)})")
    return _table(("what", "fits", "taken for a clean lamp", "as"), rows)


def _advice(lines, missed):
    board, right, strictly, worst, kept = {}, [], [], [], []
    for line in lines:
        entry = board.setdefault(line.get("lamp", "refused at the start" if "refused" in line else "crashed"), {"lamps": 0, "refused": 0, "none": 0, "missed": 0, "given": 0, "right": 0, "cost": []})
        entry["lamps"] += 1
        if "refused" in line or "crashed" in line:
            entry["refused"] += 1
            continue
        logs = [[math.log(max(width, KNOWN_WELL_ENOUGH)) for width in one["widths"]] for one in line["candidates"]]
        means = [statistics.fmean(own) for own in logs]
        errors = [statistics.stdev(own) / math.sqrt(len(own)) if len(own) > 1 else 0.0 for own in logs]
        best = min(range(len(means)), key=means.__getitem__)
        now = math.log(max(line["now"], KNOWN_WELL_ENOUGH))
        kept += [math.log(max(one["promised"], 1e-6)) - statistics.fmean(math.log(max(width, 1e-6)) for width in one["widths"])
                 for one in line["candidates"]]
        if "advised" not in line:
            entry["none"] += 1
            # Nothing advised is right where nothing would help.
            entry["missed"] += means[best] < math.log(WORTH_A_CAPTURE) + now
            continue
        advised = line["advised"]
        cost = means[advised] - min(means[best], now)
        tie = math.log(1 + ADVICE_TIE)
        noise = 2 * math.hypot(errors[advised], errors[best] if means[best] < now else 0.0)
        entry["given"] += 1
        entry["right"] += cost <= max(tie, noise)
        entry["cost"].append(math.exp(cost) - 1)
        right.append(cost <= max(tie, noise))
        strictly.append(cost <= tie)
        worst.append(math.exp(cost) - 1)
    rows = [(f"`{lamp}`", entry["lamps"], entry["refused"], entry["none"], entry["missed"], entry["given"], entry["right"],
             _percent(statistics.median(entry["cost"])) if entry["cost"] else "-", _percent(max(entry["cost"])) if entry["cost"] else "-")
            for lamp, entry in sorted(board.items())]
    if right:
        rows.append(("all", *(sum(entry[key] for entry in board.values()) for key in ("lamps", "refused", "none", "missed", "given", "right")),
                     _percent(statistics.median(worst)), _percent(max(worst))))
        if _share(right) < ADVICE_RIGHT:
            missed.append(f"next capture: the advised one is the best for {_percent(_share(right))} of {len(right)} lamps (goal {_percent(ADVICE_RIGHT)})")
    unusable = sum(len(one["refused"]) for line in lines for one in line.get("candidates", []))
    told = ""
    if right and kept:
        told = (f"\n\nNoise left aside, {sum(strictly)} of {len(strictly)} are within {100 * ADVICE_TIE:.0f} % of the best. What the advice says a capture would make of the worst figure "
                f"is {math.exp(statistics.median(kept)):.2f} times what it made (median of {len(kept)} captures; standard deviation a factor of {math.exp(statistics.pstdev(kept)):.2f}). "
                f"{unusable} draws gave a fit that was refused; they count as narrowing nothing.")
    return _table(("lamp", "lamps", "refused", "nothing advised", "of these, something would help", "advised", "of these, none better",
                   "wider than with the best: median", "most"), rows) + told


def _odd(lines, truths, missed):
    crashed = [line for line in lines if "crashed" in line]
    for line in crashed:
        missed.append(f"crash or hang: `accuracy_study {line['command']}`")
    slow = [line for line in lines if line.get("processor_s", 0) > SLOWEST_S]
    if slow:
        worst = max(slow, key=lambda line: line["processor_s"])
        missed.append(f"{len(slow)} fits of {len(lines)} took more than {SLOWEST_S:.0f} s of processor time, the longest "
                      f"{worst['processor_s']:.0f} s")
    silent = [line for line in lines if "crashed" not in line and _wrong(line, truths[line["lamp"]]) and not _warned(line)]
    for line in silent:
        missed.append(f"wrong without a warning: {line['lamp']}, draw {line['number']}: {_wrong(line, truths[line['lamp']])}")
    answered = [line for line in lines if line.get("accepted")]
    wrong = [line for line in answered if _wrong(line, truths[line["lamp"]])]
    rows = [("fits", len(lines)), ("crashed, or no answer", len(crashed)), ("captures refused, with a reason", sum("refused" in line for line in lines)),
            ("no family found", sum(line.get("accepted") is False for line in lines)), ("answered", len(answered)),
            ("of these wrong, and a rival near or the power not identified", sum(_doubted(line) for line in wrong)),
            ("of these wrong, and only the captures warned about", sum(bool(line["warnings"]) and not _doubted(line) for line in wrong)),
            ("of these wrong, without", len(silent)),
            ("longest processor time", f"{max((line.get('processor_s', 0) for line in lines), default=0):.1f} s"),
            ("more than 10 s", len(slow))]
    return _table(("what", "number"), rows)


def _wrong(line, truth):
    if not line.get("accepted"):
        return ""
    if line["family"] != truth["family"]:
        return f"`{line['family']}`"
    power = line["derived"].get("rated_power_w") or line["parameters"].get("power_w")
    if power and abs(power["value"] / truth["terminal_power_w"] - 1) > WRONG_POWER:
        return f"{power['value']:.3g} W instead of {truth['terminal_power_w']:.3g} W"
    return ""


def _warned(line):
    return bool(line["warnings"]) or _doubted(line)


def _doubted(line):
    """The answer itself says that it is not sure."""
    others = [rival["distance"] for rival in line["rivals"] if rival["family"] != line["family"]]
    power = line["derived"].get("rated_power_w")
    return (bool(others) and min(others) < DECISIVE) or (power is not None and not power["identified"])
