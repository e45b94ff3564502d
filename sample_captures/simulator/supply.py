"""The mains: a sine with a little third and fifth harmonic behind a resistance and an inductance."""

import dataclasses
import math


@dataclasses.dataclass(frozen=True)
class Supply:
    voltage_v: float = 230.0  # rms of the fundamental
    frequency_hz: float = 50.0
    resistance_ohm: float = 0.4  # IEC TR 60725, phase and neutral
    inductance_h: float = 796e-6
    third: float = 0.006  # share of the fundamental
    fifth: float = 0.012

    @property
    def period_s(self):
        return 1.0 / self.frequency_hz

    @property
    def peak_v(self):
        return self.voltage_v * math.sqrt(2.0)

    def circuit(self, node):
        """Element lines from ground to `node`; the voltage rises through zero at 0 s. Both harmonics flatten the crest."""
        peak, f = self.peak_v, self.frequency_hz
        return [
            f"Vfund s1 0 SIN(0 {peak:.9g} {f:g})",
            f"Vthird s2 s1 SIN(0 {peak * self.third:.9g} {3 * f:g})",
            f"Vfifth s3 s2 SIN(0 {-peak * self.fifth:.9g} {5 * f:g})",
            f"Rsource s3 s4 {self.resistance_ohm:.6g}",
            f"Lsource s4 {node} {self.inductance_h:.6g}",
            f"Rdamping s4 {node} 300",
        ]
