"""An LED lamp with a bridge and a reservoir: fusible resistor, interference capacitor, exponential diodes, lossy reservoir,
and one of three loads behind it."""

import dataclasses
import math

import numpy as np

THERMAL_V = 0.025852  # kT/q at 300 K


@dataclasses.dataclass(frozen=True)
class Converter:
    """Takes constant power above its lock-out voltage, and looks resistive below."""
    power_w: float
    lockout_v: float

    law = "load_power_w"

    def circuit(self, plus, minus):
        v = f"V({plus},{minus})"
        return [f"Bload {plus} {minus} I={self.power_w:.9g}*{v}/max({v}*{v},{self.lockout_v**2:.9g})"]

    def truth(self, voltage_v, current_a):
        del voltage_v, current_a
        return {"load_power_w": self.power_w}


@dataclasses.dataclass(frozen=True)
class CurrentSink:
    """A linear regulator: constant current above its headroom voltage, falling in proportion below."""
    current_a: float
    headroom_v: float

    law = "load_current_a"

    def circuit(self, plus, minus):
        return [f"Bload {plus} {minus} I={self.current_a:.9g}*max(0,min(1,V({plus},{minus})/{self.headroom_v:.9g}))"]

    def truth(self, voltage_v, current_a):
        del voltage_v, current_a
        return {"load_current_a": self.current_a}


@dataclasses.dataclass(frozen=True)
class Chain:
    """LED chips in series behind a resistor; each chip an exponential diode of ideality 2.2 that drops `chip_v` at
    `nominal_a`."""
    chips: int
    chip_v: float
    nominal_a: float
    resistor_ohm: float
    chip_ohm: float = 1.5

    law = "string_voltage_v"
    ideality = 2.2

    def circuit(self, plus, minus):
        slope_v = self.ideality * self.chips * THERMAL_V
        drop = self.chips * (self.chip_v - self.nominal_a * self.chip_ohm)
        saturation = self.nominal_a * math.exp(-drop / slope_v)
        return [f"Rchain {plus} led {self.resistor_ohm:.6g}", f"Dchain led {minus} CHAIN",
                f".model CHAIN D(IS={saturation:.6g} N={self.ideality * self.chips:.6g} RS={self.chips * self.chip_ohm:.6g})"]

    def truth(self, voltage_v, current_a):
        """The straight line nearest to the chain's curve over the current it really carried."""
        slope, start = line_through(current_a, voltage_v, current_a > 0.2 * np.max(current_a))
        return {"string_voltage_v": start, "string_resistance_ohm": slope}


@dataclasses.dataclass(frozen=True)
class RectifierLamp:
    fuse_ohm: float
    reservoir_f: float
    load: object
    reservoir_esr_ohm: float = 0.5
    input_f: float = 0.0
    input_ahead_of_fuse: bool = True
    choke_h: float = 0.0
    bleed_ohm: float = 2.2e6
    diode_ohm: float = 0.04
    diode_a: float = 7e-9  # saturation current
    ideality: float = 1.8

    family = "rectifier_capacitor"
    saved = ("v(ac)", "v(plus)", "v(minus)", "v(tank)", "i(vbridge)", "i(vload)")

    def circuit(self, node, sense, state):
        del sense
        inner = "fused"
        lines = [f"Rfuse {node} {inner} {self.fuse_ohm:.6g}"]
        if self.input_f > 0:
            # Film capacitors of this kind have a fraction of an ohm.
            lines += [f"Rinput {node if self.input_ahead_of_fuse else inner} xcap 0.3", f"Cinput xcap 0 {self.input_f:.6g} IC=0"]
        if self.choke_h > 0:
            lines += [f"Lfilter {inner} choked {self.choke_h:.6g} IC=0", f"Rfilter {inner} choked 2.2k"]
            inner = "choked"
        return lines + [
            f"Vbridge {inner} ac 0",
            "D1 ac plus BRIDGE", "D2 0 plus BRIDGE", "D3 minus ac BRIDGE", "D4 minus 0 BRIDGE",
            f".model BRIDGE D(IS={self.diode_a:.6g} N={self.ideality:.6g} RS={self.diode_ohm:.6g} CJO=10p)",
            f"Resr plus tank {self.reservoir_esr_ohm:.6g}",
            f"Creservoir tank minus {self.reservoir_f:.6g} IC={state:.9g}",
            f"Rdischarge plus minus {self.bleed_ohm:.6g}",
            "Vload plus feed 0",
            *self.load.circuit("feed", "minus")]

    def rest_state(self):
        return 0.0

    def settled_state(self, supply, edge, angle_deg):
        """Reservoir voltage to start the settling from."""
        crest = 1.0 if edge == "none" or angle_deg >= 90.0 else math.sin(math.radians(angle_deg))
        return 0.93 * supply.peak_v * crest

    def truth(self, internals, supply):
        """The circuit in the terms of the family. Bridge and chain are the straight lines nearest to their curves over the
        current they carried in the steady capture."""
        del supply
        current = np.abs(internals["i(vbridge)"])
        drop = np.abs(internals["v(ac)"]) - (internals["v(plus)"] - internals["v(minus)"])
        bridge_ohm, bridge_v = line_through(current, drop, current > 0.05 * np.max(current))
        load_v = internals["v(plus)"] - internals["v(minus)"]
        return {
            "family": "rectifier_capacitor", "load_law": self.load.law,
            "parameters": {"series_resistance_ohm": self.fuse_ohm + bridge_ohm, "series_inductance_h": self.choke_h,
                           "input_capacitance_f": self.input_f, "rectifier_drop_v": bridge_v,
                           "reservoir_capacitance_f": self.reservoir_f, "reservoir_esr_ohm": self.reservoir_esr_ohm,
                           **self.load.truth(load_v, internals["i(vload)"])},
            "derived": {},
            "components": {"fuse_ohm": self.fuse_ohm, "input_ahead_of_fuse": self.input_ahead_of_fuse,
                           "bleed_ohm": self.bleed_ohm, "diode_ohm": self.diode_ohm, "diode_ideality": self.ideality,
                           "load": dataclasses.asdict(self.load)}}


def line_through(x, y, use):
    slope, start = np.polyfit(x[use], y[use], 1)
    return float(slope), float(start)
