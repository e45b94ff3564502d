#include "core/advice/screening.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>
#include <utility>

#include "core/advice/count_search.h"
#include "core/advice/load_spread.h"
#include "core/advice/peak_search.h"
#include "core/advice/unfavourable.h"
#include "core/circuit/simulated_capture.h"
#include "core/circuit/warm_start.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr double tolerance = 0.1;  // of an ordinary supply
constexpr std::size_t uncut = screening_angles_deg.size() - 1;
constexpr std::size_t crest = 5;  // 95 degrees: cut just behind it

using Margin = ScreeningFigures::Margin;
using Points = std::array<ScreenedPoint, screening_angles_deg.size()>;

constexpr std::array<double ScreenedPoint::*, 7> point_fields = {
    &ScreenedPoint::rms_a,    &ScreenedPoint::mean_abs_a, &ScreenedPoint::peak_a,      &ScreenedPoint::cut_a,
    &ScreenedPoint::midway_a, &ScreenedPoint::latch_a,    &ScreenedPoint::lamp_power_w};
constexpr std::array<double ScreenedSurge::*, 4> surge_fields = {&ScreenedSurge::peak_a, &ScreenedSurge::i2t_a2s,
                                                                 &ScreenedSurge::charge_c, &ScreenedSurge::width_s};

/// Applies `use` to every number, in a fixed order.
template <class Margins, class Use>
void for_each_number(Margins& margin, Use use) {
  for (auto* points : {&margin.leading, &margin.trailing}) {
    for (auto& point : *points) {
      for (const auto field : point_fields) use(point.*field);
    }
  }
  for (auto* surge : {&margin.any_phase, &margin.zero_crossing}) {
    for (const auto field : surge_fields) use((*surge).*field);
  }
}

ScreenedPoint of(const SteadyFigures& figures) {
  return {figures.rms_a,    figures.mean_abs_a, figures.peak_a,      figures.cut_a,
          figures.midway_a, figures.latch_a,    figures.lamp_power_w};
}

ScreenedSurge of(const TurnOnFigures& figures) {
  return {figures.peak_a, figures.i2t_a2s, figures.charge_c, figures.width_s};
}

/// One lamp with one set of parameters on the ordinary supply, as one of `sharing` lamps: identical lamps on an
/// impedance behave as one on so many times the impedance.
class Bench {
 public:
  Bench(const Lamp& lamp, double supply_v, double frequency_hz, double sharing = 1.0)
      : group_{lamp, 1},
        again_{lamp, 1},
        path_(shared_path(supply_v, frequency_hz, sharing)),
        channel_(path_, std::span(&group_, 1)) {
    std::vector<Operation> ran{{}};
    for (const double angle_deg : screening_angles_deg) ran.push_back({Drive::leading_edge, angle_deg});
    again_.start = warm_start(path_, lamp, ran).state;
  }

  ScreenedPoint steady(Drive drive, double angle_deg) { return of(channel_.steady({drive, angle_deg})); }
  [[nodiscard]] ScreenedSurge surge(double phase_deg) const {
    return of(turn_on(path_, std::span(&again_, 1), phase_deg));
  }
  /// From the widest angle down: each steady state begins near the last one.
  void all(Margin& margin) {
    for (std::size_t i = screening_angles_deg.size(); i-- > 0;) {
      margin.leading[i] =
          i == uncut ? steady(Drive::always_on, 180.0) : steady(Drive::leading_edge, screening_angles_deg[i]);
    }
    for (std::size_t i = screening_angles_deg.size(); i-- > 0;) {
      margin.trailing[i] = i == uncut ? margin.leading[uncut] : steady(Drive::trailing_edge, screening_angles_deg[i]);
    }
    margin.zero_crossing = surge(0.0);
    margin.any_phase = margin.zero_crossing;
    for (const double phase_deg : {45.0, 75.0, 90.0, 105.0, 135.0}) {
      const ScreenedSurge here = surge(phase_deg);
      for (const auto field : surge_fields) margin.any_phase.*field = std::max(margin.any_phase.*field, here.*field);
    }
  }

 private:
  static Path shared_path(double supply_v, double frequency_hz, double sharing) {
    Path path = ordinary_path(supply_v, frequency_hz);
    path.resistance_ohm *= sharing;
    path.inductance_h *= sharing;
    return path;
  }

  LampGroup group_;
  LampGroup again_;  ///< switched off and on again
  Path path_;
  DrivenChannel channel_;
};

template <class Pick>
Margin merged(Margin a, const Margin& b, Pick pick) {
  std::vector<double> others;
  for_each_number(b, [&](const double& value) { others.push_back(value); });
  std::size_t i = 0;
  for_each_number(a, [&](double& value) { value = pick(value, others[i++]); });
  return a;
}

/// Factors on currents: from the central lamp to an unfavourable one, up and down.
struct Reach {
  double up = 1.0;
  double down = 1.0;
  void look(double value, double central) {
    if (!(central > 0.0)) return;
    up = std::max(up, value / central);
    down = std::min(down, value / central);
  }
};

struct Reaches {
  Reach heating, peak, surge, surge_heating;
};

std::size_t highest(const Points& points, double ScreenedPoint::*figure) {
  std::size_t worst = 0;
  for (std::size_t i = 1; i < points.size(); ++i) {
    if (points[i].*figure > points[worst].*figure) worst = i;
  }
  return worst;
}

/// What lamps that share the impedance of source, cable and choke draw beyond proportion: the inductance widens the
/// pulses that charge reservoirs, and the voltage across them overshoots.
Reaches sharing_of(const Lamp& lamp, const Margin& nominal, double voltage_v, double frequency_hz) {
  Reaches reaches;
  // the worst of the edge with the worst: what grows at an angle where little flows decides nothing
  const auto look = [&](Bench& bench, Drive drive, const Points& alone) {
    const std::size_t by_rms = highest(alone, &ScreenedPoint::rms_a);
    const std::size_t by_peak = highest(alone, &ScreenedPoint::peak_a);
    for (const std::size_t i : std::set{uncut, crest, by_rms, by_peak}) {
      const ScreenedPoint shared =
          i == uncut ? bench.steady(Drive::always_on, 180.0) : bench.steady(drive, screening_angles_deg[i]);
      reaches.heating.look(shared.rms_a, alone[by_rms].rms_a);
      reaches.peak.look(shared.peak_a, alone[by_peak].peak_a);
    }
  };
  for (const double sharing : {6.0, 25.0, 100.0}) {
    Bench bench(lamp, voltage_v, frequency_hz, sharing);
    look(bench, Drive::leading_edge, nominal.leading);
    look(bench, Drive::trailing_edge, nominal.trailing);
    // no phase is as bad as the crest, where what is shared only helps
    const ScreenedSurge surge = bench.surge(0.0);
    reaches.surge.look(surge.peak_a, nominal.zero_crossing.peak_a);
    reaches.surge_heating.look(surge.i2t_a2s, nominal.zero_crossing.i2t_a2s);
  }
  return reaches;
}

/// Unfavourable lamps are looked at uncut, at the leading edge where the peak is highest, and switched on at the crest.
Reaches reaches_of(const LampEvidence& evidence, const Margin& nominal, double voltage_v, double frequency_hz) {
  const std::size_t worst = highest(nominal.leading, &ScreenedPoint::peak_a);
  const ScreenedPoint& central = nominal.leading[uncut];
  constexpr double crest_deg = 90.0;
  const ScreenedSurge at_crest = Bench(*evidence.lamp, voltage_v, frequency_hz).surge(crest_deg);
  Reaches reaches;
  const std::vector<Lamp> lamps = unfavourable_lamps(evidence, {voltage_v, frequency_hz});
  for (std::size_t i = 1; i < lamps.size(); ++i) {
    Bench bench(lamps[i], voltage_v, frequency_hz);
    const ScreenedPoint full = bench.steady(Drive::always_on, 180.0);
    reaches.heating.look(full.rms_a, central.rms_a);
    reaches.peak.look(full.peak_a, central.peak_a);
    if (worst != uncut) {
      reaches.peak.look(bench.steady(Drive::leading_edge, screening_angles_deg[worst]).peak_a,
                        nominal.leading[worst].peak_a);
    }
    const ScreenedSurge surge = bench.surge(crest_deg);
    reaches.surge.look(surge.peak_a, at_crest.peak_a);
    reaches.surge_heating.look(surge.i2t_a2s, at_crest.i2t_a2s);
  }
  return reaches;
}

void scale_points(Margin& margin, double heating, double peak) {
  for (Points* points : {&margin.leading, &margin.trailing}) {
    for (ScreenedPoint& point : *points) {
      for (double* value : {&point.rms_a, &point.mean_abs_a, &point.lamp_power_w}) *value *= heating;
      for (double* value : {&point.peak_a, &point.cut_a, &point.midway_a, &point.latch_a}) *value *= peak;
    }
  }
}

double up(double spread) { return 1.0 + coverage * spread; }
double down(double spread) { return std::max(0.0, 1.0 - coverage * spread); }

/// The steady state of so many lamps, in proportion.
SteadyFigures times(const ScreenedPoint& point, int count, double inductance_h) {
  SteadyFigures figures;
  figures.rms_a = count * point.rms_a;
  figures.mean_abs_a = count * point.mean_abs_a;
  figures.peak_a = count * point.peak_a;
  figures.cut_a = count * point.cut_a;
  figures.cut_energy_j = 0.5 * inductance_h * figures.cut_a * figures.cut_a;
  figures.midway_a = count * point.midway_a;
  figures.latch_a = count * point.latch_a;
  figures.lamp_power_w = count * point.lamp_power_w;
  return figures;
}

TurnOnFigures times(const ScreenedSurge& surge, int count) {
  TurnOnFigures figures;
  figures.peak_a = count * surge.peak_a;
  figures.i2t_a2s = surge.i2t_a2s * count * count;
  figures.charge_c = count * surge.charge_c;
  figures.width_s = surge.width_s;
  return figures;
}

/// Does the constraint ask for something that screening does not know?
bool decided(const Constraint& constraint) {
  if (constraint.running || (!constraint.of_turn_on && !constraint.of_steady)) return false;
  const auto same = [](double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); };
  if (constraint.of_turn_on) {
    TurnOnFigures figures{.peak_a = 1.0, .i2t_a2s = 1.0, .charge_c = 1.0, .rise_a_per_s = 0.0, .width_s = 1e-3};
    const double without = constraint.of_turn_on(figures);
    figures.rise_a_per_s = 1e9;
    return same(constraint.of_turn_on(figures), without);
  }
  SteadyFigures figures = times({1.0, 0.9, 1.5, 1.0, 1.0, 1.0, 100.0}, 1, 1e-3);
  const double without = constraint.of_steady(figures);
  figures.rise_a_per_s = 1e9;
  figures.conduction_w = 1e3;
  figures.terminal_rms_v = 1e3;
  figures.released_deg = 1.0;
  figures.switching_w = 1e3;
  figures.clamp_j = 1e3;
  figures.gate_end_a = 1e3;
  figures.fallen_deg = 270.0;
  return same(constraint.of_steady(figures), without);
}

}  // namespace

std::vector<double> ScreeningFigures::packed() const {
  std::vector<double> values;
  for (const Margin* margin : {&most, &least, &nominal}) {
    for_each_number(*margin, [&](const double& value) { values.push_back(value); });
  }
  return values;
}

std::optional<ScreeningFigures> ScreeningFigures::unpacked(std::span<const double> values) {
  ScreeningFigures figures;
  std::size_t next = 0;
  bool complete = true;
  for (Margin* margin : {&figures.most, &figures.least, &figures.nominal}) {
    for_each_number(*margin, [&](double& value) {
      if (next < values.size()) {
        value = values[next++];
      } else {
        complete = false;
      }
    });
  }
  if (!complete || next != values.size()) return std::nullopt;
  return figures;
}

std::optional<ScreeningFigures> screening_figures(const LampEvidence& lamp, double voltage_v, double frequency_hz) {
  if (!lamp.lamp || !fed_by_mains(lamp.lamp->family().feed) || !(frequency_hz > 0.0) || !(voltage_v > 0.0)) {
    return std::nullopt;
  }
  ScreeningFigures figures;
  figures.voltage_v = voltage_v;
  figures.frequency_hz = frequency_hz;
  Bench(*lamp.lamp, voltage_v, frequency_hz).all(figures.nominal);
  Margin high;
  Margin low;
  Bench(*lamp.lamp, voltage_v * (1.0 + tolerance), frequency_hz).all(high);
  Bench(*lamp.lamp, voltage_v * (1.0 - tolerance), frequency_hz).all(low);
  const auto larger = [](double a, double b) { return std::max(a, b); };
  const auto smaller = [](double a, double b) { return std::min(a, b); };
  figures.most = merged(merged(high, low, larger), figures.nominal, larger);
  figures.least = merged(merged(high, low, smaller), figures.nominal, smaller);

  const Reaches reaches = reaches_of(lamp, figures.nominal, voltage_v, frequency_hz);
  const Reaches sharing = sharing_of(*lamp.lamp, figures.nominal, voltage_v, frequency_hz);
  const LoadSpread& spread = lamp.spread;
  const double of_heating = spread.of_one(spread.continuous_current);
  const double of_peak = spread.of_one(spread.repetitive_peak);
  scale_points(figures.most, sharing.heating.up * reaches.heating.up * up(of_heating),
               sharing.peak.up * reaches.peak.up * up(of_peak));
  scale_points(figures.least, reaches.heating.down * down(of_heating), reaches.peak.down * down(of_peak));
  const double peak = reaches.surge.up * up(spread.of_one(spread.surge_peak));
  const double root_heating = up(spread.of_one(spread.surge_i2t));
  const double heating = reaches.surge_heating.up * root_heating * root_heating;
  for (auto& [surge, shared, shared_heating] :
       {std::tuple(&figures.most.any_phase, 1.0, 1.0),
        std::tuple(&figures.most.zero_crossing, sharing.surge.up, sharing.surge_heating.up)}) {
    surge->peak_a *= shared * peak;
    surge->i2t_a2s *= shared_heating * heating;
    surge->charge_c *= std::sqrt(shared_heating * heating);
  }
  return figures;
}

Screener::Screener(const Channel& channel) : channel_(channel) {
  if (channel.output.kind != OutputKind::phase_cut && channel.output.kind != OutputKind::relay) {
    throw Error(ErrorCode::input_refused,
                fmt::format("channel '{}' has a DC output, which is not screened", channel.name));
  }
  inductance_h_ = path_of(channel, channel.supply.voltage_v).inductance_h;
  if (channel.supply.dc_offset_v != 0.0 || !channel.supply.harmonics.empty()) {
    not_checked_.emplace_back("supply.harmonics, supply.dc_offset_v: not by stored figures, which are of a sine");
  }
  std::vector<std::string> cautions;
  for (const Mode mode : modes_of(channel, cautions)) {
    ModeRules& rules = modes_.emplace_back();
    rules.mode = mode;
    rules.zero_crossing = channel.output.zero_cross_turn_on.value_or(mode == Mode::trailing_edge) &&
                          !(channel.output.contact_bounce_s.value_or(0.0) > 0.0);
    for (Constraint& constraint : constraints_of(channel, mode, not_checked_)) {
      if (constraint.advice) continue;
      if (decided(constraint)) {
        rules.constraints.push_back(std::move(constraint));
      } else {
        not_checked_.push_back(constraint.name + ": not by stored figures");
      }
    }
  }
  std::sort(not_checked_.begin(), not_checked_.end());
  not_checked_.erase(std::unique(not_checked_.begin(), not_checked_.end()), not_checked_.end());
}

// Over the angles that the channel allows, the next kept ones beyond its ends, and between them.
double Screener::value(const ModeRules& rules, const Constraint& constraint, const Margin& margin, int count) const {
  if (constraint.of_turn_on) {
    return constraint.of_turn_on(times(rules.zero_crossing ? margin.zero_crossing : margin.any_phase, count));
  }
  if (rules.mode == Mode::on_off) return constraint.of_steady(times(margin.leading[uncut], count, inductance_h_));
  const Points& points = rules.mode == Mode::leading_edge ? margin.leading : margin.trailing;
  const double low = channel_.output.min_conduction_deg.value_or(screening_angles_deg.front());
  const double high = channel_.output.max_conduction_deg.value_or(180.0);
  const double sign = constraint.minimum ? -1.0 : 1.0;
  std::array<double, screening_angles_deg.size()> angles{};
  std::array<double, screening_angles_deg.size()> values{};
  std::size_t used = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const bool below = i + 1 < points.size() && screening_angles_deg[i + 1] <= low;
    const bool above = i > 0 && screening_angles_deg[i - 1] >= high;
    if (below || above) continue;
    angles[used] = screening_angles_deg[i];
    values[used++] = sign * constraint.of_steady(times(points[i], count, inductance_h_));
  }
  return sign * highest_between(std::span(angles).first(used), std::span(values).first(used));
}

Screened Screener::judge(const ModeRules& rules, const ScreeningFigures& lamp) const {
  Screened result{.mode = rules.mode, .max_lamps = most_lamps, .max_lamps_nominal = most_lamps};
  int needed = 1;
  std::string needed_by;
  for (const Constraint& constraint : rules.constraints) {
    if (constraint.minimum) {
      int low = 0;
      int high = most_lamps + 1;
      while (high - low > 1) {
        const int middle = (low + high) / 2;
        (value(rules, constraint, lamp.least, middle) >= constraint.limit ? high : low) = middle;
      }
      if (high > needed) {
        needed = high;
        needed_by = constraint.name;
      }
      continue;
    }
    // Only what could lower the count is searched for.
    const auto count = [&](const Margin& margin, int most) {
      if (value(rules, constraint, margin, most) <= constraint.limit) return most;
      int low = 0;
      int high = most;
      const auto look = [&](int middle) {
        (value(rules, constraint, margin, middle) <= constraint.limit ? low : high) = middle;
      };
      // most stresses grow in proportion or with the square: where one of the two is right, little is left to halve
      const double share = constraint.limit / value(rules, constraint, margin, 1);
      for (const double guess : {share, std::sqrt(share)}) {
        for (const double next : {guess, guess + 1.0}) {
          if (next > low && next < high) look(static_cast<int>(next));
        }
      }
      while (high - low > 1) look((low + high) / 2);
      return low;
    };
    result.max_lamps_nominal = count(lamp.nominal, result.max_lamps_nominal);
    const int here = count(lamp.most, result.max_lamps);
    if (here < result.max_lamps) {
      result.max_lamps = here;
      result.limited_by = constraint.name;
    }
  }
  result.max_lamps_nominal = std::max(result.max_lamps_nominal, result.max_lamps);
  if (needed > result.max_lamps && needed > 1) {
    result.max_lamps = result.max_lamps_nominal = 0;
    result.limited_by = needed_by;
  }
  return result;
}

// As recommend() ranks, as far as the figures go: what holds, what dims, the lower peak over the uncut rms current, the
// higher count.
std::optional<Screened> Screener::screen(const ScreeningFigures& lamp, std::optional<bool> label_dimmable,
                                         bool harmed_by_cuts) const {
  if (std::abs(lamp.voltage_v / channel_.supply.voltage_v - 1.0) > 0.05 ||
      std::abs(lamp.frequency_hz / channel_.supply.frequency_hz - 1.0) > 0.02) {
    return std::nullopt;
  }
  const auto stress = [&](Mode mode) {
    const Points& points = mode == Mode::trailing_edge ? lamp.nominal.trailing : lamp.nominal.leading;
    double peak = points[uncut].peak_a;
    if (mode != Mode::on_off) {
      for (const ScreenedPoint& point : points) peak = std::max(peak, point.peak_a);
    }
    return peak;
  };
  std::optional<Screened> best;
  for (const ModeRules& rules : modes_) {
    Screened one = judge(rules, lamp);
    if (rules.mode != Mode::on_off && label_dimmable && !*label_dimmable) {
      one = {.mode = rules.mode, .limited_by = "label"};
    } else if (rules.mode != Mode::on_off && harmed_by_cuts) {
      one = {.mode = rules.mode, .limited_by = "phase_cut"};
    }
    const bool better = [&] {
      if (!best) return true;
      if ((one.max_lamps > 0) != (best->max_lamps > 0)) return one.max_lamps > 0;
      if ((one.mode != Mode::on_off) != (best->mode != Mode::on_off)) return one.mode != Mode::on_off;
      const double a = stress(one.mode);
      const double b = stress(best->mode);
      if (a > 1.05 * b || b > 1.05 * a) return a < b;
      return one.max_lamps > best->max_lamps;
    }();
    if (better) best = one;
  }
  if (best && best->max_lamps == 0) best->mode = Mode::none;
  return best;
}

}  // namespace lampload
