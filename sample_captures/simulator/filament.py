"""A filament as an electro-thermal circuit: tungsten resistance, heat stored, heat radiated, heat led away by the gas."""

import dataclasses
import functools

import numpy as np

from . import tungsten

AMBIENT_K = 300.0


@dataclasses.dataclass(frozen=True)
class Filament:
    rated_voltage_v: float
    rated_power_w: float
    rated_temperature_k: float
    gas_share: float = 0.0  # of the rated power that the gas leads away
    mass_factor: float = 1.0  # on the mass of a wire with this resistance and surface: the coil's cold ends
    frequency_hz: float = 50.0

    family = "filament"

    @property
    def cold_resistance_ohm(self):
        hot = self.rated_voltage_v**2 / self.rated_power_w
        return float(hot / tungsten.at(tungsten.RESISTANCE_RATIO, self.rated_temperature_k))

    @property
    def mass_kg(self):
        hot = self.rated_voltage_v**2 / self.rated_power_w
        return self.mass_factor * tungsten.wire_mass_kg(hot, self.rated_temperature_k, self.area_m2)

    @property
    def heat_capacity_j_per_k(self):
        return float(self.mass_kg * tungsten.SPECIFIC_HEAT_J_PER_KG_K[0])

    @property
    def conduction_w_per_k(self):
        return self.gas_share * self.rated_power_w / (self.rated_temperature_k - AMBIENT_K)

    @property
    def area_m2(self):
        net = (tungsten.at(tungsten.RADIATED_W_PER_M2, self.rated_temperature_k)
               - tungsten.at(tungsten.RADIATED_W_PER_M2, AMBIENT_K))
        return float((1 - self.gas_share) * self.rated_power_w / net)

    def loss_w(self, temperature_k):
        """Lost to radiation and gas, both relative to the surroundings."""
        radiated = (tungsten.at(tungsten.RADIATED_W_PER_M2, temperature_k)
                    - tungsten.at(tungsten.RADIATED_W_PER_M2, AMBIENT_K))
        return self.area_m2 * radiated + self.conduction_w_per_k * (temperature_k - AMBIENT_K)

    def circuit(self, node, sense, state):
        """Element lines from `node` to ground; `sense` is the ammeter ahead of it, the temperature [K] is node tk."""
        resistance = tungsten.spice_table(self.cold_resistance_ohm * tungsten.RESISTANCE_RATIO, "V(tk)")
        capacity = tungsten.spice_table(self.heat_capacity_j_per_k * tungsten.HEAT_RATIO, "V(tk)")
        loss = tungsten.spice_table(self.loss_w(tungsten.TEMPERATURE_K), "V(tk)")
        return [f"Bfilament {node} 0 I=V({node})/({resistance})",
                f"Cheat tk 0 1 IC={state:.9g}",
                f"Bheat 0 tk I=(V({node})*I({sense})-({loss}))/({capacity})"]

    saved = ("v(tk)",)

    def rest_state(self):
        return AMBIENT_K

    def settled_state(self, supply, edge, angle_deg):
        """Temperature at a rising zero crossing, after many cycles of this cut."""
        return settle(self, supply.voltage_v, supply.frequency_hz, edge, angle_deg)[0]

    def truth(self, internals, supply):
        temperature = settle(self, self.rated_voltage_v, self.frequency_hz, "none", 180.0)[1]
        ratio = float(tungsten.at(tungsten.RESISTANCE_RATIO, temperature))
        return {
            "family": "filament", "load_law": "",
            "parameters": {"cold_resistance_ohm": self.cold_resistance_ohm,
                           "heat_capacity_j_per_k": self.heat_capacity_j_per_k},
            "derived": {"hot_resistance_ohm": self.cold_resistance_ohm * ratio, "hot_temperature_k": temperature,
                        "rated_power_w": float(self.loss_w(temperature)), "cold_hot_ratio": 1.0 / ratio},
            "components": {"mass_kg": self.mass_kg, "area_m2": self.area_m2,
                           "conduction_w_per_k": self.conduction_w_per_k}}


@functools.lru_cache(maxsize=None)
def settle(lamp, voltage_v, frequency_hz, edge, angle_deg):
    """Temperature at the zero crossing and its mean over a half cycle, once both repeat. Own integration, 50 us Heun steps."""
    steps = round(0.5 / frequency_hz / 50e-6)
    angle = (np.arange(steps + 1)) * 180.0 / steps
    on = {"none": angle >= 0, "leading": angle >= 180.0 - angle_deg, "trailing": angle <= angle_deg}[edge]
    squared = 2 * voltage_v**2 * np.sin(np.radians(angle))**2 * on
    dt = 0.5 / frequency_hz / steps
    table_r = lamp.cold_resistance_ohm * tungsten.RESISTANCE_RATIO
    table_c = lamp.heat_capacity_j_per_k * tungsten.HEAT_RATIO
    table_l = lamp.loss_w(tungsten.TEMPERATURE_K)

    def slope(t, v2):
        k = min(max((t - 300.0) / 100.0, 0.0), 32.999)
        n = int(k)
        w = k - n
        r, c, loss = ((1 - w) * col[n] + w * col[n + 1] for col in (table_r, table_c, table_l))
        return (v2 / r - loss) / c

    temperature = _balance(lamp, float(np.mean(squared[:-1])))
    mean = temperature
    for _ in range(400):
        start, total = temperature, 0.0
        for n in range(steps):
            first = slope(temperature, squared[n])
            second = slope(temperature + dt * first, squared[n + 1])
            temperature += 0.5 * dt * (first + second)
            total += temperature
        mean = total / steps
        if abs(temperature - start) < 1e-3:
            break
    return float(temperature), float(mean)


def _balance(lamp, mean_square_v):
    low, high = AMBIENT_K, 3600.0
    while high - low > 0.01:
        middle = 0.5 * (low + high)
        resistance = lamp.cold_resistance_ohm * tungsten.at(tungsten.RESISTANCE_RATIO, middle)
        if mean_square_v / resistance > lamp.loss_w(middle):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
