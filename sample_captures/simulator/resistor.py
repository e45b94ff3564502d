"""A plain resistance: a heater, or a lamp replaced by one for a test of the instrument."""

import dataclasses


@dataclasses.dataclass(frozen=True)
class Resistor:
    resistance_ohm: float

    family = "resistor"
    saved = ()

    def circuit(self, node, sense, state):
        del sense, state
        return [f"Rlamp {node} 0 {self.resistance_ohm:.9g}"]

    def rest_state(self):
        return None

    def settled_state(self, supply, edge, angle_deg):
        del supply, edge, angle_deg

    def truth(self, internals, supply):
        del internals, supply
        return {"family": "resistor", "load_law": "", "parameters": {"resistance_ohm": self.resistance_ohm},
                "derived": {}, "components": {}}
