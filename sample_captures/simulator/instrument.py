"""The instrument: a voltage probe and a current clamp with limited bandwidth, a late clamp, offset, noise, and steps."""

import dataclasses
import math

import numpy as np

from .recording import GRID_S, Waveform


@dataclasses.dataclass(frozen=True)
class Instrument:
    sample_rate_hz: float = 100e3
    bits: int = 8
    voltage_bandwidth_hz: float = 2e6
    clamp_bandwidth_hz: float = 50e3
    clamp_delay_s: float = 0.0
    voltage_offset_steps: float = 0.0
    current_offset_steps: float = 0.0
    noise_steps: float = 0.4  # standard deviation, of both channels at 8 bits
    reversed_clamp: bool = False


@dataclasses.dataclass(frozen=True)
class Trace:
    """What the file will hold. time_s starts at 0."""
    time_s: np.ndarray
    voltage_v: np.ndarray
    current_a: np.ndarray
    voltage_step_v: float
    current_step_a: float


def record(wave: Waveform, duration_s, instrument: Instrument, seed):
    """Passes the exact waveform through the instrument."""
    noise = np.random.Generator(np.random.PCG64(seed))
    interval = 1.0 / instrument.sample_rate_hz
    time = np.arange(math.floor(duration_s / interval + 1e-6)) * interval
    voltage = np.interp(time, wave.time_s, low_pass(wave.voltage_v, instrument.voltage_bandwidth_hz))
    current = np.interp(time - instrument.clamp_delay_s, wave.time_s, low_pass(wave.current_a, instrument.clamp_bandwidth_hz))
    if instrument.reversed_clamp:
        current = -current
    v_step = _division(np.max(np.abs(voltage))) / (25 * 2**(instrument.bits - 8))
    i_step = _division(np.max(np.abs(current))) / (25 * 2**(instrument.bits - 8))
    # The noise belongs to the amplifier, not to the converter: the same share of the range at 12 bits.
    share = instrument.noise_steps * 2**(instrument.bits - 8)
    return Trace(time,
                 _digitise(voltage + instrument.voltage_offset_steps * v_step, v_step, share, instrument.bits, noise),
                 _digitise(current + instrument.current_offset_steps * i_step, i_step, share, instrument.bits, noise),
                 v_step, i_step)


def seen_current(wave: Waveform, instrument: Instrument):
    """The waveform with its current through the clamp's bandwidth alone."""
    return dataclasses.replace(wave, current_a=low_pass(wave.current_a, instrument.clamp_bandwidth_hz))


def _division(peak):
    """From the 1-2-5 row, so that the peak stays within four divisions; 25 codes of 8 bits make a division."""
    decade = 10.0**math.floor(math.log10(peak / 4))
    return next(d * decade for d in (1, 2, 5, 10, 20) if 4 * d * decade >= 1.03 * peak)


def low_pass(values, bandwidth_hz):
    """One pole, exact for a waveform that is linear between the points of the grid."""
    decay = math.exp(-2 * math.pi * bandwidth_hz * GRID_S)
    if decay < 1e-12:
        return values
    mean = (1 - decay) / (2 * math.pi * bandwidth_hz * GRID_S)
    drive = (mean - decay) * values[:-1] + (1 - mean) * values[1:]
    return np.concatenate(([values[0]], _recursion(decay, drive, values[0])))


def _recursion(decay, drive, start):
    """y[n] = decay * y[n-1] + drive[n], by doubling: after k rounds each value holds the sum of 2^k earlier ones."""
    result = drive.copy()
    result[0] += decay * start
    reach, weight = 1, decay
    while reach < len(result) and weight > 1e-18:
        result[reach:] = result[reach:] + weight * result[:-reach]
        reach, weight = 2 * reach, weight * weight
    return result


def _digitise(values, step, noise_steps, bits, noise):
    codes = np.rint(values / step + noise.normal(0.0, noise_steps, len(values)))
    return np.clip(codes, -2**(bits - 1), 2**(bits - 1) - 1) * step + 0.0  # no negative zeros
