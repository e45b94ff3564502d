"""LEDs on the rectified mains through linear regulators, without a reservoir: bridge of exponential diodes, currents that come
in along soft knees."""

import dataclasses


@dataclasses.dataclass(frozen=True)
class LinearDriverLamp:
    taps: tuple  # of (volt, ampere), rising
    input_f: float
    bleed_ohm: float
    knee: float = 0.015  # share of a tap's voltage within which its current comes in
    diode_ohm: float = 0.05
    diode_a: float = 7e-9
    ideality: float = 1.8

    family = "linear_driver"
    saved = ()
    laws = ("one_tap", "two_taps", "three_taps", "four_taps")

    def circuit(self, node, sense, state):
        del sense, state
        terms, before = [], 0.0
        for volt, ampere in self.taps:
            terms.append(f"{ampere - before:+.9g}*0.5*(1+tanh((V(plus,minus)-{volt:.9g})/{self.knee * volt:.9g}))")
            before = ampere
        return [f"Cin {node} 0 {self.input_f:.6g} IC=0", f"Racross {node} 0 {self.bleed_ohm:.6g}",
                f"D1 {node} plus BRIDGE", "D2 0 plus BRIDGE", f"D3 minus {node} BRIDGE", "D4 minus 0 BRIDGE",
                f".model BRIDGE D(IS={self.diode_a:.6g} N={self.ideality:.6g} RS={self.diode_ohm:.6g} CJO=10p)",
                f"Btaps plus minus I={''.join(terms)}"]

    def rest_state(self):
        return None

    def settled_state(self, supply, edge, angle_deg):
        del supply, edge, angle_deg

    def truth(self, internals, supply):
        del internals, supply
        parameters = {"input_capacitance_f": self.input_f, "bleed_resistance_ohm": self.bleed_ohm}
        for number, (volt, ampere) in enumerate(self.taps, 1):
            parameters[f"tap_voltage_{number}_v"] = volt
            parameters[f"tap_current_{number}_a"] = ampere
        return {"family": self.family, "load_law": self.laws[len(self.taps) - 1], "parameters": parameters, "derived": {},
                "components": dataclasses.asdict(self)}
