"""Lamps on direct current: a supply, how it is switched, and LED strip behind its cable."""

import dataclasses
import math

import numpy as np

from . import ngspice
from .recording import GRID_S, Waveform
from .rectifier import THERMAL_V


@dataclasses.dataclass(frozen=True)
class DirectPlan:
    """shape: "turn_on" (the supply comes up within `rise_s`, from `start_s` on), "steady", or "pulse_width" (on for `duty` of
    each pulse)."""
    shape: str
    duration_s: float
    voltage_v: float = 24.0
    source_ohm: float = 0.05
    start_s: float = 4e-3
    rise_s: float = 12e-3
    pulse_hz: float = 500.0
    duty: float = 0.4
    ripple_v: float = 0.0  # peak, at twice the mains frequency
    ripple_hz: float = 100.0

    @property
    def kind(self):
        return self.shape

    def circuit(self, node):
        volt = self.voltage_v
        if self.shape == "turn_on":
            source = f"PWL(0 0 {self.start_s:.9g} 0 {self.start_s + self.rise_s:.9g} {volt:.9g} 1 {volt:.9g})"
        elif self.shape == "pulse_width":
            source = f"PULSE(0 {volt:.9g} 0.1m 1u 1u {self.duty / self.pulse_hz:.9g} {1.0 / self.pulse_hz:.9g})"
        else:
            source = f"SIN({volt:.9g} {self.ripple_v:.9g} {self.ripple_hz:g})"
        return [f"Vsupply supply 0 {source}", f"Rsupply supply {node} {self.source_ohm:.6g}"]


@dataclasses.dataclass(frozen=True)
class StripLamp:
    """`chains` side by side, each of `chips` LEDs that drop `chip_v` at `nominal_a` and a resistor; a cable of two wires."""
    chains: int
    chips: int
    chip_v: float
    nominal_a: float
    resistor_ohm: float
    cable_h: float
    ideality: float = 2.2

    family = "strip"

    @property
    def emission_v(self):
        return self.ideality * THERMAL_V * self.chips

    @property
    def saturation_a(self):
        """Of all chains together."""
        return self.chains * self.nominal_a / math.expm1(self.chips * self.chip_v / self.emission_v)

    @property
    def ohm(self):
        return self.resistor_ohm / self.chains

    def circuit(self, node):
        return [f"Lcable {node} far {self.cable_h:.9g} IC=0", f"Rcable {node} far 2k", "Cleds far 0 50p", "Dleds far 0 LEDS",
                f".model LEDS D(IS={self.saturation_a:.9g} N={self.emission_v / 0.025864186:.9g} RS={self.ohm:.9g})"]

    def current_a(self, volt):
        """Shockley's equation, by bisection in the logarithm of the current."""
        low, high = -60.0, 5.0
        for _ in range(100):
            middle = 0.5 * (low + high)
            here = math.exp(middle)
            drop = self.ohm * here + self.emission_v * math.log1p(here / self.saturation_a)
            low, high = (middle, high) if drop < volt else (low, middle)
        return math.exp(low)

    def truth(self, volt):
        """The tangent to the curve where the strip works."""
        current = self.current_a(volt)
        slope = self.ohm + self.emission_v / current
        return {"family": self.family, "load_law": "",
                "parameters": {"string_voltage_v": volt - slope * current, "string_resistance_ohm": slope,
                               "cable_inductance_h": self.cable_h},
                "derived": {"rated_power_w": volt * current, "rated_current_a": current}, "components": dataclasses.asdict(self)}


def simulate_direct(lamp, plan: DirectPlan):
    """The exact waveform at the strip's cable, 10 ms after the simulation began where nothing is to be seen at its beginning."""
    first = 0.3e-3 if plan.shape == "turn_on" else 10e-3
    stop = first + plan.duration_s
    circuit = [*plan.circuit("line"), "Vsense line lamp 0", *lamp.circuit("lamp")]
    result = ngspice.transient(circuit, ["v(lamp)", "i(vsense)"], stop + 100e-6, 1e-6)
    lead = 200e-6
    grid = np.arange(round((plan.duration_s + lead + 50e-6) / GRID_S)) * GRID_S + first - lead
    voltage, current = (np.interp(grid, result["time"], result[name]) for name in ("v(lamp)", "i(vsense)"))
    return Waveform(grid - first, voltage, current, {}, float("nan"))


def direct_figures(wave: Waveform, plan: DirectPlan):
    """What a perfect instrument would show over the whole record; `on`: the last 10 ms (of pulses: the middle of the last)."""
    inside = (wave.time_s >= 0) & (wave.time_s < plan.duration_s)
    v, i, t = wave.voltage_v[inside], wave.current_a[inside], wave.time_s[inside]
    if plan.shape == "pulse_width":
        on = v > 0.5 * plan.voltage_v
        starts = np.flatnonzero(on[1:] & ~on[:-1])
        begin = starts[-2] + round(0.3 * plan.duty / plan.pulse_hz / GRID_S)
        on = slice(begin, begin + round(0.4 * plan.duty / plan.pulse_hz / GRID_S))
    else:
        on = slice(int(np.searchsorted(t, plan.duration_s - 10e-3)), len(t))
    return {"voltage_rms_v": float(np.sqrt(np.mean(v**2))), "current_rms_a": float(np.sqrt(np.mean(i**2))),
            "current_peak_a": float(np.max(np.abs(i))), "active_power_w": float(np.mean(v * i)),
            "on": {"voltage_v": float(np.mean(v[on])), "current_a": float(np.mean(i[on]))}}
