"""A driver with power-factor correction: input filter, bridge of exponential diodes, a converter that looks like a conductance,
set by the voltage of its bus, up to what its on-time allows."""

import dataclasses

import numpy as np


@dataclasses.dataclass(frozen=True)
class CorrectedDriverLamp:
    power_w: float
    usual_v: float  # rms voltage at which the bus is at its nominal voltage
    largest_s: float
    series_ohm: float
    input_f: float
    bus_f: float
    bus_v: float = 400.0
    gain_per_v: float = 0.02
    diode_ohm: float = 0.05
    diode_a: float = 7e-9
    ideality: float = 1.8

    family = "corrected_driver"
    saved = ("v(x)", "i(vbridge)")
    settle_cycles = 8

    def circuit(self, node, sense, state):
        del sense
        usual_s = self.power_w / self.usual_v**2
        return [f"Rs {node} x {self.series_ohm:.6g}", f"Cin x 0 {self.input_f:.6g} IC=0", "Vbridge x ac 0",
                "D1 ac plus BRIDGE", "D2 0 plus BRIDGE", "D3 minus ac BRIDGE", "D4 minus 0 BRIDGE",
                f".model BRIDGE D(IS={self.diode_a:.6g} N={self.ideality:.6g} RS={self.diode_ohm:.6g} CJO=10p)",
                f"Bset set 0 V=min({self.largest_s:.9g},max(0,{usual_s:.9g}*(1+{self.gain_per_v:g}*({self.bus_v:g}-V(bus)))))",
                "Bstage plus minus I=V(set)*max(V(plus,minus),0)",
                f"Bbus 0 bus I=(V(set)*max(V(plus,minus),0)^2-{self.power_w:.9g})/max(V(bus),50)",
                f"Cbus bus 0 {self.bus_f:.6g} IC={state:.9g}"]

    def rest_state(self):
        raise NotImplementedError("the bus of such a lamp is charged by a path that this circuit does not have")

    def settled_state(self, supply, edge, angle_deg):
        del supply, edge, angle_deg
        return self.bus_v

    def truth(self, internals, supply):
        """The power that the converter takes with its bridge, over the last whole cycles."""
        per_cycle = round(supply.period_s / 1e-6)
        power = internals["v(x)"] * internals["i(vbridge)"]
        whole = len(power) // per_cycle * per_cycle
        return {"family": self.family, "load_law": "",
                "parameters": {"conductance_s": self.largest_s, "input_capacitance_f": self.input_f,
                               "series_resistance_ohm": self.series_ohm, "power_w": float(np.mean(power[-whole:]))},
                "derived": {}, "components": dataclasses.asdict(self)}
