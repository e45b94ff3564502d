"""One recording of one lamp: which supply, which switch, how long; and the exact waveform before any instrument."""

import dataclasses

import numpy as np

from . import ngspice
from .supply import Supply
from .switch import Switch

GRID_S = 1e-6
SETTLE_CYCLES = 6


@dataclasses.dataclass(frozen=True)
class Plan:
    """start_deg: phase of the mains at the first sample (of a turn-on: at the switching instant, after `before_cycles`)."""
    switch: Switch
    cycles: float = 6.0
    start_deg: float = 0.0
    before_cycles: float = 1.25
    supply_side: bool = False  # the voltage probe sits ahead of the switch, so that it sees the mains all the time

    @property
    def kind(self):
        return {"none": "steady", "turn_on": "turn_on", "leading": "leading_edge", "trailing": "trailing_edge"}[self.switch.edge]


@dataclasses.dataclass(frozen=True)
class Waveform:
    """Equidistant, GRID_S apart, time 0 at the first sample."""
    time_s: np.ndarray
    voltage_v: np.ndarray
    current_a: np.ndarray
    internals: dict
    turn_on_s: float


def simulate(lamp, supply: Supply, plan: Plan):
    """The exact waveform at the lamp's terminals. It starts a little before 0 s, so that an instrument can be late."""
    if plan.switch.edge == "leading" and plan.switch.holding_a > 0:
        switch = dataclasses.replace(plan.switch, holding_a=0.0)
        wave = simulate(lamp, supply, dataclasses.replace(plan, switch=switch))
        switch = dataclasses.replace(switch, release_deg=_release_deg(wave, plan, supply))
        plan = dataclasses.replace(plan, switch=switch)
    period = supply.period_s
    edge = plan.switch.edge
    if edge == "turn_on":
        state = lamp.rest_state()
        turn_on = (2 + plan.start_deg / 360.0) * period
        first = turn_on - plan.before_cycles * period
    else:
        state = lamp.settled_state(supply, edge, plan.switch.angle_deg)
        turn_on = 0.0
        first = (getattr(lamp, "settle_cycles", SETTLE_CYCLES) + plan.start_deg / 360.0) * period
    stop = first + plan.cycles * period
    node = "line"
    circuit = [*supply.circuit(node), *plan.switch.circuit(node, "terminal", supply, turn_on),
               "Vsense terminal lamp 0", *lamp.circuit("lamp", "Vsense", state)]
    probe = f"v({node})" if plan.supply_side else "v(lamp)"
    vectors = [probe, "i(vsense)", *lamp.saved]
    step = 5e-6 if lamp.family in ("filament", "resistor") else 2e-6
    result = ngspice.transient(circuit, vectors, stop + 100e-6, step)
    lead = 200e-6
    grid = np.arange(round((stop - first + lead + 50e-6) / GRID_S)) * GRID_S + first - lead
    values = {name: np.interp(grid, result["time"], result[name]) for name in vectors}
    return Waveform(grid - first, values.pop(probe), values.pop("i(vsense)"), values,
                    turn_on - first if edge == "turn_on" else float("nan"))


def _release_deg(wave, plan, supply):
    """How far ahead of the zero crossing the current falls below the holding current for good, once the triac has carried it:
    counted over the last half cycle in the waveform of a switch that stays closed."""
    angle = (wave.time_s * supply.frequency_hz * 360.0 + plan.start_deg) % 180.0
    fired = 180.0 - plan.switch.angle_deg
    last = wave.time_s > (plan.cycles - 0.6) * supply.period_s
    carried = angle[last & (angle > fired) & (np.abs(wave.current_a) > plan.switch.holding_a)]
    return 180.0 - float(np.max(carried)) if len(carried) else 0.0


def figures(wave: Waveform, plan: Plan, supply: Supply):
    """What a perfect instrument would show: over the last whole cycles; for a turn-on the first half cycle's surge too."""
    per_cycle = round(supply.period_s / GRID_S)
    if plan.switch.edge == "turn_on":
        whole = 1
    else:
        whole = int(plan.cycles)
    end = int(np.searchsorted(wave.time_s, plan.cycles * supply.period_s - GRID_S / 2))
    span = slice(end - whole * per_cycle, end)
    v, i = wave.voltage_v[span], wave.current_a[span]
    answer = {"voltage_rms_v": float(np.sqrt(np.mean(v**2))), "current_rms_a": float(np.sqrt(np.mean(i**2))),
              "current_peak_a": float(np.max(np.abs(i))), "active_power_w": float(np.mean(v * i))}
    if plan.switch.edge == "turn_on":
        first = int(np.searchsorted(wave.time_s, wave.turn_on_s))
        surge = wave.current_a[first:first + per_cycle // 2]
        answer["inrush"] = {"peak_a": float(np.max(np.abs(surge))), "i2t_a2s": float(np.sum(surge**2) * GRID_S),
                            "phase_deg": plan.start_deg % 360.0}
    return answer
