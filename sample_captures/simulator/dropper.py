"""An LED lamp fed through a series film capacitor: fusible resistor, capacitor with its bleeder, bridge of exponential diodes,
lossy reservoir, chain of LEDs."""

import dataclasses

import numpy as np

from .rectifier import Chain, line_through


@dataclasses.dataclass(frozen=True)
class DropperLamp:
    fuse_ohm: float
    series_f: float
    bleed_ohm: float
    reservoir_f: float
    load: Chain
    working_v: float  # of the reservoir, to start the settling from
    reservoir_esr_ohm: float = 0.5
    discharge_ohm: float = 470e3
    diode_ohm: float = 0.05
    diode_a: float = 7e-9
    ideality: float = 1.8

    family = "capacitive_dropper"
    saved = ("v(ac)", "v(plus)", "v(minus)", "i(vbridge)", "i(vload)")
    settle_cycles = 12

    def circuit(self, node, sense, state):
        del sense
        return [
            f"Rfuse {node} fused {self.fuse_ohm:.6g}",
            f"Cseries fused inner {self.series_f:.6g} IC=0", f"Racross fused inner {self.bleed_ohm:.6g}",
            "Vbridge inner ac 0",
            "D1 ac plus BRIDGE", "D2 0 plus BRIDGE", "D3 minus ac BRIDGE", "D4 minus 0 BRIDGE",
            f".model BRIDGE D(IS={self.diode_a:.6g} N={self.ideality:.6g} RS={self.diode_ohm:.6g} CJO=10p)",
            f"Resr plus tank {self.reservoir_esr_ohm:.6g}", f"Creservoir tank minus {self.reservoir_f:.6g} IC={state:.9g}",
            f"Rdischarge plus minus {self.discharge_ohm:.6g}",
            "Vload plus feed 0",
            *self.load.circuit("feed", "minus")]

    def rest_state(self):
        return 0.0

    def settled_state(self, supply, edge, angle_deg):
        del supply, edge, angle_deg
        return self.working_v

    def truth(self, internals, supply):
        """As for the lamp with a bridge alone: bridge and chain are the straight lines nearest to their curves."""
        del supply
        current = np.abs(internals["i(vbridge)"])
        load_v = internals["v(plus)"] - internals["v(minus)"]
        bridge_ohm, bridge_v = line_through(current, np.abs(internals["v(ac)"]) - load_v, current > 0.05 * np.max(current))
        return {"family": self.family, "load_law": "",
                "parameters": {"series_capacitance_f": self.series_f, "series_resistance_ohm": self.fuse_ohm + bridge_ohm,
                               "bleed_resistance_ohm": self.bleed_ohm, "rectifier_drop_v": bridge_v,
                               "reservoir_capacitance_f": self.reservoir_f, **self.load.truth(load_v, internals["i(vload)"])},
                "derived": {}, "components": dataclasses.asdict(self)}
