#include "cli/capture_guide.h"

#include <fmt/format.h>

#include <algorithm>

#include "cli/quantity.h"
#include "core/waveform/quality_limits.h"

namespace lampload {
namespace {

namespace needs = quality_limits;

std::string enough_steps(const std::string& what) {
  return fmt::format(
      "{}; it must span {:.0f} steps of the digitiser or more (an 8-bit scope has 256 in its whole range)", what,
      needs::fewest_steps_of_peak);
}

GuidedCapture steady(double crest_factor) {
  return {"steady",
          "lamp warm (a minute or more), full voltage, no dimmer in the way",
          enough_steps(fmt::format("the crest, {:.1f} times the rms current, just inside", crest_factor)),
          50e3,
          0.22,
          "line, or none"};
}

GuidedCapture turn_on(const std::string& how, const std::string& surge, double rate_hz, double seconds) {
  return {
      "turn_on",
      how,
      surge,
      rate_hz,
      seconds,
      "on the current as it leaves zero, single shot, a tenth of the record before it: it must begin before the switch "
      "closes"};
}

GuidedCapture dimmed(const std::string& kind, const std::string& what, const std::string& range) {
  return {
      kind,  fmt::format("behind a {} dimmer at about half power, voltage probe on the lamp, behind the dimmer", what),
      range, 100e3,
      0.22,  "line, or none"};
}

std::vector<std::string> mains_probes() {
  const std::string voltage =
      "Voltage: a differential probe, or an isolated channel, rated for the voltage and the measurement category of "
      "the place: II on what is plugged in, III on the fixed installation (IEC 61010-031).";
  const std::string current = fmt::format(
      "Current: a clamp that passes DC (not a plain current transformer) of {} or more, or a shunt behind "
      "an isolated channel. Its category counts as well. Wind the conductor through it several times for "
      "a small lamp, and divide by the turns with --current-scale.",
      quantity(needs::enough_clamp_bandwidth_hz, "Hz", 3));
  const std::string place =
      "The voltage on the lamp's own terminals, behind the dimmer. The clamp's arrow towards the lamp. Zero the clamp "
      "and degauss it before each capture.";
  const std::string dead =
      "Put probes, clamp and shunt on, and take them off, with the circuit isolated and discharged.";
  const std::string alone =
      "One lamp, nothing else on its cable. Save the samples as text, WAV or COMTRADE, not as a picture.";
  return {voltage, current, place, dead, alone};
}

std::vector<std::string> deskew() {
  return {
      "Once for a pair of probes: take a steady capture of a filament lamp or heater of 40 W or more, same probes, "
      "same "
      "ranges. Its current must cross zero with the voltage. `lampload inspect` says by how much it does not "
      "(channel_delay).",
      "Sharper: the same lamp behind a leading-edge dimmer at half power. Both channels then show the same edge, and "
      "inspect says the delay to a part of a sample and how fast the clamp is (slow_clamp).",
      "Give what it says as --current-delay with every capture made with these probes."};
}

std::vector<std::string> dc_probes() {
  return {
      "Voltage on the lamp's own terminals. With a low-side switch neither of them is ground, and a grounded clip may "
      "short the switch: use a differential probe.",
      "Current: a clamp that passes DC, or a shunt of which you lose less than a hundredth of the voltage.",
      "A supply or driver that is not isolated from the mains makes every point of the circuit live, whatever its DC "
      "voltage: then measure as on mains."};
}

GuidedCapture dc_steady(const std::string& how) {
  return {"steady", how, enough_steps("the current a little below full scale"), 50e3, 0.05, "none"};
}

GuidedCapture dc_pulses() {
  return {"pulse_width",
          "dimmed to a third or so: ten periods or more",
          enough_steps("the current in the pulses a little below full scale"),
          200e3,
          0.02,
          fmt::format("on the rising voltage; at least {:.0f} samples a period of the pulses, 200 for their edges",
                      needs::fewest_samples_a_pulse)};
}

const std::string reservoir_charged =
    "A lamp's reservoir stays charged after it is switched off. Let it stand, and "
    "measure before you touch its terminals.";

CaptureGuide filament() {
  CaptureGuide guide{"filament", "filament or halogen lamp", {"filament", "resistor"}, {}, mains_probes(), {}, deskew(),
                     ""};
  guide.cautions = {"Glass and cap burn for minutes after."};
  guide.captures = {
      turn_on(
          "cold: off for ten minutes or more; close near the crest of the mains if you can choose, else several times, "
          "and keep the highest",
          "12 to 16 times the running crest: the surge comes first", 50e3, 0.5),
      steady(1.4), dimmed("leading_edge", "leading-edge", "as for the steady capture"),
      dimmed("trailing_edge", "trailing-edge", "as for the steady capture; may be left out")};
  guide.afterwards = "An ohmmeter on the cold lamp says its cold resistance better than a scope: --cold-resistance.";
  return guide;
}

CaptureGuide led_lamp() {
  CaptureGuide guide{"led-lamp",
                     "LED lamp or compact fluorescent lamp",
                     {"rectifier_capacitor", "linear_driver", "corrected_driver"},
                     {reservoir_charged},
                     mains_probes(),
                     {},
                     deskew(),
                     ""};
  guide.captures = {
      steady(5.0),
      turn_on(fmt::format(
                  "off for a minute or more; near the crest of the mains, where the surge is highest, or ten times at "
                  "random and the highest kept. It may last 0.1 ms: {:.0f} samples at half of its height, better 20",
                  needs::fewest_samples_of_a_surge),
              "50 to 300 times the rms current; if it leaves the range, take the next larger one", 200e3, 0.3),
      dimmed("leading_edge", "leading-edge",
             "ten times the crest of the steady capture, less if it fits; only if the label says dimmable"),
      dimmed("trailing_edge", "trailing-edge",
             "twice the crest of the steady capture; only if the label says dimmable")};
  guide.afterwards = "Say what the label says of dimming: --label-dimmable.";
  return guide;
}

CaptureGuide dropper_candle() {
  CaptureGuide guide{
      "dropper-candle",
      "LED candle or night light fed through a capacitor, without a transformer or driver",
      {"capacitive_dropper"},
      {"Every part of such a lamp is live, also what looks like the low-voltage side.",
       "Never on a dimmer of either kind: each cut drives many times the usual peak through its capacitor. The "
       "captures at a cut are not asked for."},
      mains_probes(),
      {},
      deskew(),
      ""};
  guide.captures = {
      steady(2.0),
      turn_on("off for a minute or more; near the crest of the mains, or ten times at random and the highest kept",
              "up to 100 times the rms current", 200e3, 0.3)};
  guide.afterwards =
      "The power factor is 0.1 to 0.5 and the current leads: a skew of the channels counts more than in any "
      "other lamp. Deskew first.";
  return guide;
}

CaptureGuide transformer() {
  CaptureGuide guide{
      "transformer",
      "wound transformer with its lamps, magnetic ballast, or fan",
      {"inductive"},
      {"Load the transformer with its own lamps. Without them a dimmer may drive it into saturation and burn "
       "it.",
       "An opened winding gives a spike of many times the mains: keep the probe's rating in mind, and hands "
       "away when switching off."},
      mains_probes(),
      {},
      deskew(),
      ""};
  guide.captures = {
      steady(1.6),
      turn_on("close near the zero crossing, where the core saturates; ten times at random and the highest kept, "
              "since it depends on what the core remembers",
              "10 to 30 times the running crest; it takes many cycles to die away", 50e3, 1.0),
      dimmed("leading_edge", "leading-edge", "twice the running crest; never on a trailing-edge dimmer")};
  guide.afterwards =
      "A fan is measured at rest of its blades for the turn-on, and at full speed for the steady capture.";
  return guide;
}

CaptureGuide dc_strip() {
  CaptureGuide guide{"dc-strip", "LED strip or module for 12, 24 or 48 V DC", {"strip"}, {}, dc_probes(), {}, {}, ""};
  guide.captures = {
      {"turn_on", "switch on the power supply, not the strip, so that its voltage comes up over some milliseconds",
       enough_steps("the running current a little below full scale"), 100e3, 0.1,
       "on the rising voltage, a tenth of the record before it"},
      dc_steady("warm, at the rated voltage, and a second one some per cent away"),
      dc_pulses()};
  guide.afterwards = "A table of steady points by two meters says more of the curve than an 8-bit scope: --dc-table.";
  return guide;
}

CaptureGuide bare_emitter() {
  CaptureGuide guide{"bare-emitter",
                     "bare LED, chip on board or module fed with constant current",
                     {"emitter"},
                     {"Many drivers give more than 60 V, and are not isolated from the mains."},
                     dc_probes(),
                     {},
                     {},
                     ""};
  guide.captures = {
      {"turn_on", "on its driver: switch on the driver", enough_steps("the rated current a little below full scale"),
       100e3, 0.1, "on the rising voltage, a tenth of the record before it"},
      dc_steady("warm, at the rated current, and a second one some per cent away"),
      dc_pulses()};
  guide.afterwards = "A table of steady points by two meters says more of the curve than an 8-bit scope: --dc-table.";
  return guide;
}

CaptureGuide unknown() {
  CaptureGuide guide{
      "unknown",
      "lamp of which you know nothing",
      {},
      {reservoir_charged, "No dimmer before the steady capture has been looked at: some lamps burn on one."},
      mains_probes(),
      {},
      deskew(),
      ""};
  guide.captures = {
      steady(5.0),
      turn_on("off for ten minutes or more; near the crest of the mains, or ten times at random and the highest "
              "kept",
              "300 times the rms current; if the surge is small, again in a smaller one", 200e3, 0.5)};
  guide.afterwards =
      "Then `lampload characterise` with both: it says what the lamp is, and which capture would narrow the "
      "answer most. Follow the guide for that kind from there.";
  return guide;
}

const std::vector<CaptureGuide>& guides() {
  static const std::vector<CaptureGuide> all = {filament(), led_lamp(),     dropper_candle(), transformer(),
                                                dc_strip(), bare_emitter(), unknown()};
  return all;
}

}  // namespace

std::vector<std::string> guided_lamps() {
  std::vector<std::string> words;
  for (const CaptureGuide& guide : guides()) words.push_back(guide.word);
  return words;
}

CaptureGuide capture_guide(const std::string& word) {
  return *std::find_if(guides().begin(), guides().end(), [&](const CaptureGuide& guide) { return guide.word == word; });
}

}  // namespace lampload
