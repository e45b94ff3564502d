"""Draws lamps, supplies, recordings and instruments at random, each lamp from its own seed."""

import dataclasses
import math

import numpy as np

from simulator.corrected_driver import CorrectedDriverLamp
from simulator.dropper import DropperLamp
from simulator.filament import Filament
from simulator.instrument import Instrument
from simulator.linear_driver import LinearDriverLamp
from simulator.recording import Plan
from simulator.rectifier import Chain, Converter, CurrentSink, RectifierLamp
from simulator.resistor import Resistor
from simulator.supply import Supply
from simulator.switch import Switch
from simulator.winding import Winding

KINDS = ("filament", "constant_power", "chain", "halogen", "constant_current", "constant_power", "chain", "filament",
         "constant_current", "resistor")


@dataclasses.dataclass(frozen=True)
class Case:
    name: str
    nominal_v: float
    nominal_hz: float
    lamp: object
    supply: Supply
    plans: dict  # capture name: Plan
    instruments: dict  # capture name: Instrument


def draw(seed, index):
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, index])))
    kind = KINDS[index % len(KINDS)]
    nominal_v, nominal_hz = (230.0, 50.0) if rng.random() < 0.7 else (120.0, 60.0)
    supply = Supply(nominal_v * rng.uniform(0.97, 1.03), nominal_hz, rng.uniform(0.1, 0.8), rng.uniform(1e-4, 9e-4),
                    rng.uniform(0, 0.01), rng.uniform(0, 0.015))
    lamp = draw_lamp(rng, kind, nominal_v, nominal_hz)
    plans = _plans(rng, lamp)
    instruments = _instruments(rng, plans, supply)
    if lamp.family == "filament" and rng.random() < 0.2:
        plans = {name: dataclasses.replace(plan, supply_side=True) for name, plan in plans.items()}
    return Case(f"{index:03d}_{kind}", nominal_v, nominal_hz, lamp, supply, plans, instruments)


def _log(rng, low, high):
    return float(np.exp(rng.uniform(math.log(low), math.log(high))))


def draw_lamp(rng, kind, volt, hertz):
    """One lamp of a kind: those of KINDS, or one of the rarer ones."""
    if kind in RARER:
        return RARER[kind](rng, volt)
    if kind == "resistor":
        return Resistor(volt**2 / _log(rng, 10, 150))
    if kind == "filament":
        return Filament(volt, _log(rng, 25, 100), rng.uniform(2550, 2850), rng.uniform(0.05, 0.2), rng.uniform(0.95, 1.2), hertz)
    if kind == "halogen":
        return Filament(volt, _log(rng, 18, 120), rng.uniform(2750, 3000), rng.uniform(0.05, 0.15), rng.uniform(0.95, 1.2), hertz)
    power = _log(rng, 3, 20)
    peak = volt * math.sqrt(2)
    # Charge per watt that keeps the ripple of a constant-power load between about 10 % and 30 %.
    reservoir = power * _log(rng, 0.4e-6, 1.2e-6) * (230 / volt)**2 * (50 / hertz)
    fuse = _log(rng, 0.003, 0.03) * volt**2 / power / 2
    if kind == "constant_power":
        load = Converter(power, 0.25 * peak)
    elif kind == "constant_current":
        load = CurrentSink(power / (0.88 * peak), 0.35 * peak)
    else:
        mean, string = 0.9 * peak, rng.uniform(0.68, 0.82) * peak
        current = power / mean
        chips = round(string / 3.0)
        load = Chain(chips, 3.0, current, max(10.0, (mean - string) / current))
    return RectifierLamp(fuse_ohm=fuse, reservoir_f=reservoir, load=load, reservoir_esr_ohm=fuse * rng.uniform(0.02, 0.15),
                         input_f=0.0 if rng.random() < 0.4 else _log(rng, 10e-9, 100e-9),
                         input_ahead_of_fuse=bool(rng.random() < 0.5),
                         choke_h=0.0 if rng.random() < 0.5 else _log(rng, 0.3e-3, 2e-3),
                         bleed_ohm=_log(rng, 1e6, 5e6), diode_ohm=rng.uniform(0.02, 0.08), ideality=rng.uniform(1.5, 2.0))


def _dropper(rng, volt):
    peak = volt * math.sqrt(2)
    series = _log(rng, 0.22e-6, 1.2e-6) * 230 / volt
    chips = round(rng.uniform(0.12, 0.5) * peak / 3.0)
    # What the series capacitor lets through: 4 f C (peak - string), at about 50 Hz.
    current = 200 * series * (peak - 3.0 * chips)
    resistor = rng.uniform(0.05, 0.25) * 3.0 * chips / current
    # Few half cycles' worth of charge up to many.
    reservoir = current * 0.01 / (_log(rng, 0.01, 0.1) * 3.0 * chips)
    return DropperLamp(fuse_ohm=_log(rng, 0.01, 0.06) * volt / current / 10, series_f=series, bleed_ohm=_log(rng, 4e5, 1.5e6),
                       reservoir_f=reservoir, load=Chain(chips, 3.0, current, resistor), working_v=3.0 * chips + current * resistor,
                       reservoir_esr_ohm=rng.uniform(0.2, 2.0), ideality=rng.uniform(1.5, 2.0))


def _linear_driver(rng, volt):
    peak = volt * math.sqrt(2)
    taps = int(rng.integers(1, 5))
    first, last = (rng.uniform(0.45, 0.8), 0.0) if taps == 1 else (rng.uniform(0.25, 0.4), rng.uniform(0.75, 0.88))
    current = _log(rng, 4, 12) / volt
    steps = []
    for k in range(taps):
        share = first if taps == 1 else first + (last - first) * k / (taps - 1)
        steps.append((float(share * peak), float(current * (0.45 + 0.55 * (k + 1) / taps))))
    return LinearDriverLamp(tuple(steps), input_f=_log(rng, 1e-9, 1e-8), bleed_ohm=_log(rng, 3e5, 3e6), knee=rng.uniform(0.01, 0.02),
                            ideality=rng.uniform(1.5, 2.0))


def _corrected_driver(rng, volt):
    power = _log(rng, 10, 45)
    usual = power / volt**2
    return CorrectedDriverLamp(power, volt, largest_s=usual * rng.uniform(1.3, 4), series_ohm=_log(rng, 3, 40) * (volt / 230)**2,
                               input_f=_log(rng, 3e-9, 12e-9) * power * (230 / volt)**2, bus_f=1.5e-6 * power * _log(rng, 0.7, 1.5),
                               ideality=rng.uniform(1.5, 2.0))


def _winding(rng, volt):
    impedance = volt**2 / _log(rng, 15, 100)
    angle = rng.uniform(math.radians(30), math.radians(80))
    return Winding(impedance * math.cos(angle), impedance * math.sin(angle) / 314.0)


def _transformer(rng, volt):
    load = volt**2 / _log(rng, 15, 80)
    return Winding(series_ohm=load * rng.uniform(0.02, 0.08), series_h=load * rng.uniform(0.02, 0.1) / 314.0,
                   magnetising_h=load * rng.uniform(0.7, 2.5) / 314.0, secondary_ohm=load)


RARER = {"dropper": _dropper, "linear_driver": _linear_driver, "corrected_driver": _corrected_driver, "winding": _winding,
         "transformer": _transformer}


def _plans(rng, lamp):
    thermal = lamp.family == "filament"
    # One leading edge in four is a triac's, which drops out when the lamp's current pulse ends.
    holding = _log(rng, 0.005, 0.04) if rng.random() < 0.25 else 0.0
    leading = Switch("leading", float(rng.uniform(75, 130)), choke_h=_log(rng, 50e-6, 1e-3), bleed_ohm=_log(rng, 30e3, 100e3),
                     holding_a=holding)
    trailing = Switch("trailing", float(rng.uniform(75, 130)), slope_s=rng.uniform(30e-6, 120e-6), bleed_ohm=_log(rng, 30e3, 100e3))
    return {"steady": Plan(Switch(), 6, rng.uniform(0, 360)),
            "turn_on": Plan(Switch("turn_on"), 20 if thermal else 8, rng.uniform(0, 360), rng.uniform(0.6, 1.6)),
            "leading_edge": Plan(leading, 6, rng.uniform(0, 360)),
            "trailing_edge": Plan(trailing, 6, rng.uniform(0, 360))}


def _instruments(rng, plans, supply):
    """One instrument for all captures of a lamp; rate and offset may change from capture to capture, as they do in life."""
    base = Instrument(bits=8 if rng.random() < 0.75 else 12, voltage_bandwidth_hz=_log(rng, 300e3, 5e6),
                      clamp_bandwidth_hz=30e3 if rng.random() < 0.6 else _log(rng, 20e3, 100e3),
                      clamp_delay_s=rng.uniform(-20e-6, 20e-6), noise_steps=rng.uniform(0.2, 0.8),
                      reversed_clamp=bool(rng.random() < 0.15))
    result = {}
    for name, plan in plans.items():
        rate = float(rng.choice([50e3, 100e3, 125e3, 200e3, 250e3, 500e3]))
        if plan.cycles * supply.period_s * rate > 60000:
            rate = 100e3
        result[name] = dataclasses.replace(base, sample_rate_hz=rate, voltage_offset_steps=rng.uniform(-0.7, 0.7),
                                           current_offset_steps=rng.uniform(-1.5, 1.5))
    return result
