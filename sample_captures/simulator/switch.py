"""The switching element between supply and lamp: a conductance that moves between off and on along a ramp."""

import dataclasses
import math

OFF_S = 2e-7
RAMP_S = 5e-6


@dataclasses.dataclass(frozen=True)
class Switch:
    """edge: "none" (closed), "turn_on" (closes at `angle_deg` of the mains and stays), "leading" or "trailing" (conducts for
    `angle_deg` of each half cycle, after or from the zero crossing)."""
    edge: str = "none"
    angle_deg: float = 180.0
    on_ohm: float = 0.1
    choke_h: float = 0.0
    slope_s: float = 50e-6  # trailing edge: of the gate, on and off, as interference limits ask for
    bleed_ohm: float = 0.0  # the dimmer's own divider across its output; 0: none
    holding_a: float = 0.0  # leading edge: below it a triac drops out; 0: conducts to the zero crossing
    release_deg: float = 0.0  # where the triac drops out, ahead of the zero crossing; recording.simulate finds it

    def control(self, supply, turn_on_s):
        half = 0.5 * supply.period_s
        per_degree = half / 180.0
        if self.edge == "none":
            return "Vcontrol control 0 DC 1"
        if self.edge == "turn_on":
            return f"Vcontrol control 0 PWL(0 0 {turn_on_s:.12g} 0 {turn_on_s + RAMP_S:.12g} 1)"
        on_s = self.angle_deg * per_degree
        if self.edge == "leading":
            # At the zero crossing the ramp has its middle.
            width = on_s - self.release_deg * per_degree - 1.5 * RAMP_S
            return f"Vcontrol control 0 PULSE(0 1 {half - on_s:.12g} {RAMP_S} {RAMP_S} {width:.12g} {half:.15g})"
        if self.edge == "trailing":
            return f"Vcontrol control 0 PULSE(0 1 0 {self.slope_s} {self.slope_s} {on_s - self.slope_s:.12g} {half:.15g})"
        raise ValueError(f"unknown edge {self.edge}")

    def circuit(self, source, load, supply, turn_on_s=0.0):
        span = math.log(1.0 / self.on_ohm / OFF_S)
        inner = "sw" if self.choke_h > 0 else load
        lines = [self.control(supply, turn_on_s),
                 f"Bswitch {source} {inner} I=V({source},{inner})*{OFF_S}*exp({span:.9g}*V(control))"]
        if self.choke_h > 0:
            lines += [f"Lchoke {inner} {load} {self.choke_h:.6g}", f"Rchoke {inner} {load} 500"]
        if self.bleed_ohm > 0:
            lines.append(f"Rbleed {load} 0 {self.bleed_ohm:.6g}")
        return lines
