"""Wound things: a choke or small motor as resistance and inductance, a transformer with core and load; both with a stray
capacitance between their turns."""

import dataclasses


@dataclasses.dataclass(frozen=True)
class Winding:
    series_ohm: float
    series_h: float
    magnetising_h: float = 0.0  # 0: no core of its own, a plain winding
    secondary_ohm: float = 0.0  # referred to the primary
    stray_f: float = 200e-12

    family = "inductive"
    saved = ()

    def circuit(self, node, sense, state):
        del sense, state
        lines = [f"Rw {node} a {self.series_ohm:.6g}", f"Cstray {node} 0 {self.stray_f:.6g}"]
        if not self.magnetising_h:
            return lines + [f"Lw a 0 {self.series_h:.6g} IC=0"]
        return lines + [f"Lleak a core {self.series_h:.6g} IC=0", f"Lcore core 0 {self.magnetising_h:.6g} IC=0",
                        f"Rload core 0 {self.secondary_ohm:.6g}"]

    def rest_state(self):
        return None

    def settled_state(self, supply, edge, angle_deg):
        del supply, edge, angle_deg

    def truth(self, internals, supply):
        del internals, supply
        parameters = {"series_resistance_ohm": self.series_ohm, "series_inductance_h": self.series_h}
        if self.magnetising_h:
            parameters |= {"magnetising_inductance_h": self.magnetising_h, "secondary_resistance_ohm": self.secondary_ohm}
        return {"family": self.family, "load_law": "transformer" if self.magnetising_h else "", "parameters": parameters,
                "derived": {}, "components": dataclasses.asdict(self)}
