"""Runs one transient analysis in ngspice and refuses a run that did not reach its end."""

import os
import pathlib
import subprocess
import tempfile

import numpy as np

# A bridge behind an inductance needs damping and a floor of conductance, or the step collapses.
OPTIONS = ".options gmin=1e-10 rshunt=1e9 method=gear maxord=2 reltol=1e-4 abstol=1e-9 vntol=1e-5 itl4=100"


class SimulationFailed(RuntimeError):
    pass


def transient(circuit, vectors, stop_s, step_s):
    """Simulates `circuit` (element lines) from the given initial conditions. Returns {"time": [s], vector: values}."""
    with tempfile.TemporaryDirectory(prefix="lamp_circuit_") as folder:
        raw = pathlib.Path(folder) / "out.raw"
        deck = pathlib.Path(folder) / "lamp.cir"
        deck.write_text("\n".join([
            "* simulated lamp", *circuit, OPTIONS, ".control", f"save {' '.join(vectors)}",
            f"tran {step_s:.9g} {stop_s:.12g} 0 {step_s:.9g} uic", f"write {raw}", "quit", ".endc", ".end", ""]))
        run = subprocess.run(["nice", "-n", "5", "ngspice", "-b", str(deck)], cwd=folder, capture_output=True, text=True,
                             env={**os.environ, "SPICE_ASCIIRAWFILE": "0"}, check=False)
        log = run.stdout + run.stderr
        if "too small" in log or "aborted" in log or not raw.exists():
            raise SimulationFailed(f"ngspice stopped early:\n{log[-2000:]}")
        result = _read_raw(raw)
    if result["time"][-1] < stop_s - 2 * step_s:
        raise SimulationFailed(f"ngspice ended at {result['time'][-1]} s of {stop_s} s:\n{log[-2000:]}")
    return result


def _read_raw(path):
    header, _, body = path.read_bytes().partition(b"Binary:\n")
    lines = header.decode().splitlines()
    count = int(next(line for line in lines if line.startswith("No. Variables")).split(":")[1])
    first = lines.index("Variables:") + 1
    names = [line.split()[1].lower() for line in lines[first:first + count]]
    table = np.frombuffer(body, dtype=float)
    table = table[:len(table) // count * count].reshape(-1, count)
    return {name: table[:, column] for column, name in enumerate(names)}
