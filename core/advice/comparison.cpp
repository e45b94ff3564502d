#include "core/advice/comparison.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <span>
#include <utility>

#include "core/advice/constraint.h"
#include "core/advice/load_spread.h"
#include "core/advice/unfavourable.h"
#include "core/error.h"
#include "core/waveform/cycles.h"
#include "core/waveform/mains_sine.h"

namespace lampload {
namespace {

// Two standard uncertainties of a clamp's scale, as the fit takes it where nothing is said; common practice, no source.
constexpr double instrument = 0.02;

Mode mode_of(const Figures& figures) {
  if (figures.cut.edge == Edge::leading) return Mode::leading_edge;
  if (figures.cut.edge == Edge::trailing) return Mode::trailing_edge;
  return Mode::on_off;
}

Error refused(std::string message, const Capture& capture, std::string remedy = {}) {
  return {ErrorCode::input_refused, std::move(message), Place{.file = capture.file}, std::move(remedy)};
}

void check_lamps(std::span<const LoadItem> load, const Capture& capture) {
  if (load.empty()) throw Error(ErrorCode::usage, "there is no lamp to compare with");
  for (const LoadItem& item : load) {
    if (item.count < 1) throw Error(ErrorCode::usage, fmt::format("{} lamps are no load", item.count));
    if (!item.evidence.lamp) {
      throw refused(fmt::format("'{}' has no circuit, so nothing can be predicted", item.evidence.name), capture,
                    "Fit it first with 'lampload fit'");
    }
  }
}

Mode checked_mode(const Channel& channel, std::optional<Mode> mode, const Capture& capture, const Figures& figures) {
  if (figures.direct || !figures.mains_frequency_hz || !fed_by_mains(channel)) {
    throw refused("only captures of mains channels are compared", capture);
  }
  const Mode shown = mode_of(figures);
  const Mode set = mode.value_or(shown);
  std::vector<std::string> cautions;
  const std::vector<Mode> able = modes_of(channel, cautions);
  if (std::find(able.begin(), able.end(), set) == able.end()) {
    throw refused(fmt::format("channel '{}' cannot do {}", channel.name, mode_name(set)), capture,
                  "Name the channel that was captured, or say its mode with --mode");
  }
  if (shown != Mode::on_off && shown != set) {
    throw refused(fmt::format("the capture shows a {} cut, and the mode is said to be {}",
                              shown == Mode::leading_edge ? "leading" : "trailing", mode_name(set)),
                  capture);
  }
  return set;
}

CycleWindow steady_window(const Capture& capture, const Figures& figures) {
  CycleWindow window;
  window.first = figures.steady_first;
  window.cycle_samples = capture.sample_rate_hz() / *figures.mains_frequency_hz;
  const double samples = static_cast<double>(figures.steady_last - figures.steady_first);
  window.cycles = static_cast<std::size_t>(samples / window.cycle_samples + 0.02);
  return window;
}

/// What the channel does at the operating point of the capture, with lamps of one set of parameters.
struct Prediction {
  SteadyFigures steady;
  std::optional<TurnOnFigures> turn_on;
};

struct LoadPoint {
  Operation operation;
  double supply_v = 0.0;
  std::optional<double> phase_deg;
};

Prediction predict(std::span<const LampGroup> lamps, const Channel& channel, const LoadPoint& at) {
  const Path path = path_of(channel, at.supply_v);
  Prediction prediction;
  prediction.steady = DrivenChannel(path, lamps).steady(at.operation);
  if (at.phase_deg) prediction.turn_on = turn_on(path, lamps, *at.phase_deg);
  return prediction;
}

/// An uncut capture shows the voltage behind source and cable, and one simulation says how much they take. Behind a cut
/// the sine that the terminals follow is taken, raised by what the current drops along the path's resistance.
double shown_supply_v(std::span<const LampGroup> lamps, const Channel& channel, const Capture& capture,
                      const Figures& figures) {
  if (figures.cut.edge == Edge::none) {
    const double supply_v = figures.voltage_rms_v;
    const Prediction there = predict(lamps, channel, {{Drive::always_on, 180.0}, supply_v, std::nullopt});
    return there.steady.terminal_rms_v > 0.0 ? supply_v * supply_v / there.steady.terminal_rms_v : supply_v;
  }
  if (figures.cut.supply_side_voltage) return figures.voltage_rms_v;
  const CycleWindow window = steady_window(capture, figures);
  const std::vector<double> half_cycle = folded_half_cycle(capture.voltage_v, window, fold_points(window));
  const auto sine = fit_mains_sine(half_cycle, channel.supply.voltage_v * std::numbers::sqrt2);
  if (!sine) return channel.supply.voltage_v;
  return sine->amplitude_v / std::numbers::sqrt2 +
         path_of(channel, channel.supply.voltage_v).resistance_ohm * figures.current_rms_a;
}

/// Relative half widths below and above the central value.
struct Width {
  double below = 0.0;
  double above = 0.0;
};

/// All figures that a capture can show, with what the prediction allows for.
struct Widths {
  Width heating, peak, power, surge_peak, surge_heating;
};

/// What one kind of lamp makes of the uncertainty.
struct KindOfLamp {
  std::vector<Prediction> unfavourable;  ///< the whole load, with this kind at each of its unfavourable ends
  Prediction alone;                      ///< this kind on the channel by itself, central
  LoadSpread spread;
  int count = 1;
};

using Figure = double (*)(const Prediction&);

/// power: how the figure goes with the current, 1 or 2.
Width width_of(const Prediction& central, std::span<const KindOfLamp> kinds, Figure figure,
               FigureSpread LoadSpread::*spread, double power) {
  Width width{instrument * power, instrument * power};
  double all_alone = 0.0;
  for (const KindOfLamp& kind : kinds) all_alone += figure(kind.alone);
  for (const KindOfLamp& kind : kinds) {
    Width ends;
    for (const Prediction& one : kind.unfavourable) {
      if (!(figure(central) > 0.0)) break;
      ends.below = std::max(ends.below, 1.0 - figure(one) / figure(central));
      ends.above = std::max(ends.above, figure(one) / figure(central) - 1.0);
    }
    const double share = all_alone > 0.0 ? figure(kind.alone) / all_alone : 1.0;
    const double pieces = coverage * share * kind.spread.of_mean(kind.spread.*spread, kind.count) * power;
    width.below = std::hypot(width.below, ends.below, pieces);
    width.above = std::hypot(width.above, ends.above, pieces);
  }
  width.below = std::min(1.0, width.below);
  return width;
}

Widths widths_of(const Prediction& central, std::span<const KindOfLamp> kinds) {
  const auto width = [&](Figure figure, FigureSpread LoadSpread::*spread, double power) {
    return width_of(central, kinds, figure, spread, power);
  };
  Widths widths;
  widths.heating = width([](const Prediction& p) { return p.steady.rms_a; }, &LoadSpread::continuous_current, 1.0);
  widths.peak = width([](const Prediction& p) { return p.steady.peak_a; }, &LoadSpread::repetitive_peak, 1.0);
  widths.power = width([](const Prediction& p) { return p.steady.lamp_power_w; }, &LoadSpread::continuous_current, 1.0);
  if (central.turn_on) {
    widths.surge_peak = width([](const Prediction& p) { return p.turn_on->peak_a; }, &LoadSpread::surge_peak, 1.0);
    widths.surge_heating = width([](const Prediction& p) { return p.turn_on->i2t_a2s; }, &LoadSpread::surge_i2t, 2.0);
  }
  return widths;
}

Compared compared(std::string name, std::string unit, double measured, double predicted, const Width& width) {
  return {.name = std::move(name),
          .unit = std::move(unit),
          .measured = measured,
          .predicted = predicted,
          .lower = predicted * (1.0 - width.below),
          .upper = predicted * (1.0 + width.above)};
}

/// The same figures moved to the end of what is allowed for.
SteadyFigures moved(SteadyFigures figures, const Widths& widths, bool up) {
  const auto factor = [up](const Width& width) { return up ? 1.0 + width.above : 1.0 - width.below; };
  for (double* value : {&figures.rms_a, &figures.mean_abs_a}) *value *= factor(widths.heating);
  figures.lamp_power_w *= factor(widths.power);
  for (double* value : {&figures.peak_a, &figures.rise_a_per_s, &figures.cut_a, &figures.midway_a, &figures.latch_a}) {
    *value *= factor(widths.peak);
  }
  figures.conduction_w *= factor(widths.heating) * factor(widths.heating);
  figures.cut_energy_j *= factor(widths.peak) * factor(widths.peak);
  return figures;
}

TurnOnFigures moved(TurnOnFigures figures, const Widths& widths, bool up) {
  const auto factor = [up](const Width& width) { return up ? 1.0 + width.above : 1.0 - width.below; };
  for (double* value : {&figures.peak_a, &figures.rise_a_per_s}) *value *= factor(widths.surge_peak);
  figures.charge_c *= std::sqrt(factor(widths.surge_heating));
  figures.i2t_a2s *= factor(widths.surge_heating);
  return figures;
}

/// What the capture shows, the rest at `unknown`.
SteadyFigures measured_steady(const Capture& capture, const Figures& figures, double unknown) {
  const CycleWindow window = steady_window(capture, figures);
  SteadyFigures shown;
  for (double* value :
       {&shown.rise_a_per_s, &shown.conduction_w, &shown.cut_a, &shown.cut_energy_j, &shown.midway_a, &shown.latch_a,
        &shown.gate_end_a, &shown.released_deg, &shown.fallen_deg, &shown.clamp_j, &shown.switching_w}) {
    *value = unknown;
  }
  shown.rms_a = figures.current_rms_a;
  shown.peak_a = figures.current_peak_a;
  shown.mean_abs_a = mean_over(window, capture.samples(), [&](std::size_t k) {
    return std::abs(capture.current_a[k] - figures.current_offset_a);
  });
  shown.lamp_power_w = figures.active_power_w;
  shown.terminal_rms_v = figures.voltage_rms_v;
  return shown;
}

TurnOnFigures measured_turn_on(const Inrush& inrush, double unknown) {
  TurnOnFigures shown;
  shown.peak_a = inrush.peak_a;
  shown.i2t_a2s = inrush.i2t_a2s;
  shown.width_s = inrush.width_s;
  shown.charge_c = unknown;
  shown.rise_a_per_s = unknown;
  return shown;
}

/// The constraint's value by the capture; empty where it depends on what a capture does not show.
template <class Of, class Measured>
std::optional<double> shown_value(const Of& of, const Measured& measured) {
  const double value = of(measured(0.0));
  if (!std::isfinite(value) || of(measured(1e3)) != value) return std::nullopt;
  return value;
}

void compare_constraints(const Channel& channel, const Capture& capture, const Figures& figures,
                         const Prediction& central, const Widths& widths, Comparison& comparison) {
  Missing missing;
  for (const Constraint& constraint : constraints_of(channel, comparison.mode, missing)) {
    Compared one{.name = constraint.name, .unit = constraint.unit};
    one.limit = constraint.limit;
    std::optional<double> value;
    if (constraint.running || (!constraint.of_turn_on && !constraint.of_steady)) continue;
    if (constraint.of_turn_on) {
      if (!central.turn_on || !figures.inrush) continue;
      const auto& of = constraint.of_turn_on;
      value = shown_value(of, [&](double unknown) { return measured_turn_on(*figures.inrush, unknown); });
      one.predicted = of(*central.turn_on);
      one.lower = of(moved(*central.turn_on, widths, false));
      one.upper = of(moved(*central.turn_on, widths, true));
    } else {
      const auto& of = constraint.of_steady;
      value = shown_value(of, [&](double unknown) { return measured_steady(capture, figures, unknown); });
      one.predicted = of(central.steady);
      one.lower = of(moved(central.steady, widths, false));
      one.upper = of(moved(central.steady, widths, true));
    }
    if (!value) continue;
    one.measured = *value;
    comparison.constraints.push_back(std::move(one));
  }
}

/// How many half widths the measured value lies from the predicted one.
double reach(const Compared& one) {
  const double room = one.measured > one.predicted ? one.upper - one.predicted : one.predicted - one.lower;
  return room > 0.0 ? std::abs(one.measured - one.predicted) / room : 0.0;
}

}  // namespace

double Compared::off() const { return predicted != 0.0 ? measured / predicted - 1.0 : 0.0; }

std::string Compared::off_in_words() const {
  if (unit == "degC") {
    const double difference = measured - predicted;
    return fmt::format("{:.1f} K {}", std::abs(difference), difference < 0.0 ? "below" : "above");
  }
  const double percent = 100.0 * std::abs(off());
  return fmt::format("{:.{}f} % {}", percent, percent < 9.95 ? 1 : 0, off() < 0.0 ? "below" : "above");
}

std::string Comparison::finding() const {
  const Compared* one = worst();
  return one == nullptr ? std::string("as predicted")
                        : fmt::format("{} is {} the prediction", one->name, one->off_in_words());
}

bool Comparison::agrees() const { return worst() == nullptr; }

const Compared* Comparison::worst() const {
  const Compared* worst = nullptr;
  for (const auto* list : {&constraints, &figures}) {
    for (const Compared& one : *list) {
      if (!one.agrees() && (worst == nullptr || reach(one) > reach(*worst))) worst = &one;
    }
    if (worst != nullptr) break;
  }
  return worst;
}

Comparison compare(std::span<const LoadItem> load, const Channel& channel, std::optional<Mode> mode,
                   const Capture& capture, const Figures& figures) {
  check_lamps(load, capture);
  Comparison comparison;
  comparison.mode = checked_mode(channel, mode, capture, figures);
  comparison.channel = channel.name;
  std::vector<LampGroup> lamps;
  for (const LoadItem& item : load) {
    lamps.push_back({*item.evidence.lamp, item.count});
    comparison.count += item.count;
  }
  comparison.conduction_deg = figures.cut.edge == Edge::none ? 180.0 : figures.cut.conduction_angle_deg;

  Channel there = channel;
  there.supply.frequency_hz = *figures.mains_frequency_hz;
  LoadPoint at;
  at.operation.drive = figures.cut.edge == Edge::leading    ? Drive::leading_edge
                       : figures.cut.edge == Edge::trailing ? Drive::trailing_edge
                                                            : Drive::always_on;
  at.operation.conduction_deg = comparison.conduction_deg;
  at.supply_v = shown_supply_v(lamps, there, capture, figures);
  if (figures.inrush) at.phase_deg = std::fmod(figures.inrush->phase_deg, 180.0);
  comparison.supply_v = at.supply_v;
  comparison.phase_deg = at.phase_deg;

  const Prediction central = predict(lamps, there, at);
  std::vector<KindOfLamp> kinds;
  for (std::size_t g = 0; g < load.size(); ++g) {
    KindOfLamp& kind = kinds.emplace_back();
    kind.spread = load[g].evidence.spread;
    kind.count = load[g].count;
    kind.alone = load.size() == 1 ? central : predict(std::span(&lamps[g], 1), there, at);
    std::vector<LampGroup> moved = lamps;
    const std::vector<Lamp> ends =
        unfavourable_lamps(load[g].evidence, {channel.supply.voltage_v, channel.supply.frequency_hz});
    for (auto end = ends.begin() + 1; end != ends.end(); ++end) {
      moved[g].lamp = *end;
      kind.unfavourable.push_back(predict(moved, there, at));
    }
  }
  const Widths widths = widths_of(central, kinds);

  std::vector<Compared>& list = comparison.figures;
  list.push_back(compared("current_rms", "A", figures.current_rms_a, central.steady.rms_a, widths.heating));
  list.push_back(compared("current_peak", "A", figures.current_peak_a, central.steady.peak_a, widths.peak));
  list.push_back(compared("active_power", "W", figures.active_power_w, central.steady.lamp_power_w, widths.power));
  if (central.turn_on) {
    list.push_back(compared("inrush_peak", "A", figures.inrush->peak_a, central.turn_on->peak_a, widths.surge_peak));
    list.push_back(
        compared("inrush_i2t", "A2s", figures.inrush->i2t_a2s, central.turn_on->i2t_a2s, widths.surge_heating));
  }
  if (figures.cut.edge != Edge::none) {
    const Output& output = channel.output;
    list.push_back({.name = "conduction_angle",
                    .unit = "deg",
                    .measured = comparison.conduction_deg,
                    .predicted = comparison.conduction_deg,
                    .lower = output.min_conduction_deg.value_or(0.0) - 1.0,
                    .upper = output.max_conduction_deg.value_or(180.0) + 1.0});
  }
  compare_constraints(there, capture, figures, central, widths, comparison);

  const double tolerance = channel.supply.tolerance_percent / 100.0;
  if (std::abs(at.supply_v / channel.supply.voltage_v - 1.0) > tolerance) {
    comparison.cautions.push_back(fmt::format(
        "The capture shows a supply of {:.1f} V, and the channel says {:g} V within {:g} %. Check the probe's factor.",
        at.supply_v, channel.supply.voltage_v, channel.supply.tolerance_percent));
  }
  for (const QualityNote& note : figures.quality) {
    if (note.severity != Severity::note) comparison.cautions.push_back("Of the capture: " + note.message);
  }
  return comparison;
}

}  // namespace lampload
