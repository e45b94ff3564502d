"""The invented boathouse: its lamps, and which captures of each were taken with what."""

import dataclasses

from .direct import DirectPlan, StripLamp
from .filament import Filament
from .instrument import Instrument
from .layouts import bare, byte_order_mark, decimal_comma, header_units, no_time, preamble, scientific, tabs
from .recording import Plan
from .rectifier import Chain, Converter, CurrentSink, RectifierLamp
from .supply import Supply
from .switch import Switch

CLUB = Supply()
GUESTS = Supply(120.0, 60.0, 0.25, 350e-6, 0.004, 0.01)

# One scope with a slow clamp, and a better pair that another member owns.
SCOPE = Instrument(sample_rate_hz=50e3, bits=8, voltage_bandwidth_hz=1e6, clamp_bandwidth_hz=30e3, clamp_delay_s=5e-6,
                   voltage_offset_steps=0.3, current_offset_steps=0.8)
FINE_SCOPE = Instrument(sample_rate_hz=100e3, bits=12, voltage_bandwidth_hz=5e6, clamp_bandwidth_hz=100e3, clamp_delay_s=2e-6,
                        voltage_offset_steps=-2.0, current_offset_steps=5.0, noise_steps=0.15)


@dataclasses.dataclass(frozen=True)
class Shot:
    plan: Plan  # of a lamp on direct current: DirectPlan
    instrument: Instrument
    layout: object


@dataclasses.dataclass(frozen=True)
class Item:
    folder: str
    title: str
    nominal_voltage_v: float
    nominal_frequency_hz: float
    channel: str
    lamp: object
    supply: Supply
    shots: dict  # file name: Shot


@dataclasses.dataclass(frozen=True)
class DirectItem:
    folder: str
    title: str
    nominal_voltage_v: float
    channel: str
    lamp: object
    shots: dict  # file name: Shot


def _cut(edge, angle_deg, **more):
    return Switch(edge, angle_deg, bleed_ohm=47e3, **more)


def _faster(instrument, rate_hz, **more):
    return dataclasses.replace(instrument, sample_rate_hz=rate_hz, **more)


ITEMS = (
    Item("simulated_clubroom_pendant_60w", "clubroom pendant (60 W filament)", 230.0, 50.0, "boathouse_triac_two_wire.json",
         Filament(230.0, 60.0, 2730.0, 0.12), CLUB, {
             "steady.csv": Shot(Plan(Switch(), 8, 25), SCOPE, header_units),
             "turn_on.csv": Shot(Plan(Switch("turn_on"), 16, 80), SCOPE, bare),
             "leading_90deg.csv": Shot(Plan(_cut("leading", 90, choke_h=100e-6), 6, 100), SCOPE, header_units),
             "trailing_90deg.csv": Shot(Plan(_cut("trailing", 90), 6, 210), SCOPE, decimal_comma)}),
    Item("simulated_stair_candle_28w", "stair candle (28 W halogen)", 230.0, 50.0, "boathouse_triac_two_wire.json",
         Filament(230.0, 28.0, 2830.0, 0.08), CLUB, {
             "steady.txt": Shot(Plan(Switch(), 6, 300), SCOPE, tabs),
             "turn_on.csv": Shot(Plan(Switch("turn_on"), 12, 95), SCOPE, no_time),
             "leading_110deg.csv": Shot(Plan(_cut("leading", 110, choke_h=100e-6), 6, 5), SCOPE, preamble),
             "trailing_110deg.txt": Shot(Plan(_cut("trailing", 110), 6, 140), SCOPE, tabs)}),
    Item("simulated_stair_candle_led_5w", "stair candle (5 W LED)", 230.0, 50.0, "boathouse_mosfet_neutral.json",
         RectifierLamp(fuse_ohm=68.0, reservoir_f=2.2e-6, load=Chain(84, 3.0, 0.016, 2200.0), reservoir_esr_ohm=4.0), CLUB, {
             "steady.csv": Shot(Plan(Switch(), 5, 60), _faster(SCOPE, 100e3), decimal_comma),
             "turn_on.csv": Shot(Plan(Switch("turn_on"), 4, 85), _faster(SCOPE, 200e3), header_units),
             "leading_100deg.csv": Shot(Plan(_cut("leading", 100, choke_h=100e-6), 5, 30), _faster(SCOPE, 100e3), preamble),
             "trailing_100deg.csv": Shot(Plan(_cut("trailing", 100), 5, 330), _faster(SCOPE, 100e3), byte_order_mark)}),
    Item("simulated_workshop_batten_led_12w", "workshop batten (12 W LED)", 230.0, 50.0, "boathouse_mosfet_neutral.json",
         RectifierLamp(fuse_ohm=10.0, reservoir_f=10e-6, load=CurrentSink(0.041, 150.0), reservoir_esr_ohm=0.9, input_f=47e-9,
                       input_ahead_of_fuse=False, choke_h=1e-3), CLUB, {
             "steady.csv": Shot(Plan(Switch(), 5, 45), FINE_SCOPE, preamble),
             "turn_on.csv": Shot(Plan(Switch("turn_on"), 4, 90), _faster(FINE_SCOPE, 250e3), no_time),
             "leading_90deg.csv": Shot(Plan(_cut("leading", 90, choke_h=100e-6), 5, 15), FINE_SCOPE, header_units),
             "trailing_90deg_reversed.csv": Shot(Plan(_cut("trailing", 90), 5, 15),
                                                 dataclasses.replace(FINE_SCOPE, reversed_clamp=True), header_units)}),
    Item("simulated_guest_house_led_9w", "guest house lamp (9 W LED)", 120.0, 60.0, "boathouse_guest_house_120v.json",
         RectifierLamp(fuse_ohm=4.7, reservoir_f=33e-6, load=Converter(8.3, 42.0), reservoir_esr_ohm=0.4, input_f=100e-9,
                       input_ahead_of_fuse=True), GUESTS, {
             "steady.csv": Shot(Plan(Switch(), 6, 10), _faster(SCOPE, 100e3), byte_order_mark),
             "turn_on.csv": Shot(Plan(Switch("turn_on"), 5, 88), _faster(SCOPE, 200e3), header_units),
             "leading_95deg.txt": Shot(Plan(_cut("leading", 95, choke_h=100e-6), 5, 200), _faster(SCOPE, 100e3), scientific),
             "trailing_95deg.csv": Shot(Plan(_cut("trailing", 95), 5, 75), _faster(SCOPE, 100e3), bare)}),
)

_STRIP_SCOPE = dataclasses.replace(SCOPE, sample_rate_hz=250e3, clamp_bandwidth_hz=100e3, clamp_delay_s=3e-6)

DIRECT_ITEMS = (
    DirectItem("simulated_boat_rack_strip_24v", "strip light under the boat racks (5 m, LED)", 24.0, "boathouse_strip_24v.json",
               StripLamp(chains=75, chips=7, chip_v=2.95, nominal_a=0.02, resistor_ohm=150.0, cable_h=2.1e-6), {
                   "switch_on.csv": Shot(DirectPlan("turn_on", 0.06), _faster(_STRIP_SCOPE, 100e3), header_units),
                   "full.csv": Shot(DirectPlan("steady", 0.04, ripple_v=0.15), _faster(_STRIP_SCOPE, 50e3), preamble),
                   "pulses_40_percent.csv": Shot(DirectPlan("pulse_width", 0.02, duty=0.4, source_ohm=0.08), _STRIP_SCOPE,
                                                 byte_order_mark)}),
)
