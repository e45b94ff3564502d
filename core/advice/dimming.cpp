#include "core/advice/dimming.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <utility>

#include "core/circuit/pulses.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr double least_conduction_deg = 10.0;  // where the channel does not say it; common practice, no source
constexpr double closest_deg = 0.5;
constexpr int most_halvings = 40;       // a motor on a triac may fire or miss anywhere
constexpr double flicker_share = 0.05;  // common practice, no source
constexpr int flicker_half_cycles = 8;
constexpr int most_repeats = 3;  // a filament takes a while to warm on little power
constexpr double least_duty = 1e-3;

double integral(const Waveform& wave, const std::vector<double>& value) {
  double sum = 0.0;
  for (std::size_t k = 1; k < wave.time_s.size(); ++k) {
    sum += 0.5 * (value[k] + value[k - 1]) * (wave.time_s[k] - wave.time_s[k - 1]);
  }
  return sum;
}

double mean(const Waveform& wave, const std::vector<double>& value) {
  const double length_s = wave.time_s.back() - wave.time_s.front();
  return length_s > 0.0 ? integral(wave, value) / length_s : 0.0;
}

/// Phase-cut lamps at one setting after the other, each from the state that the last one left.
class Sweep {
 public:
  Sweep(const Path& path, Drive drive, std::span<const LampGroup> lamps, const DimmingOptions& options, bool light)
      : drive_(drive), light_(light), now_(path, lamps, options.accuracy), before_(path, lamps, options.accuracy) {}

  void keep() { before_.adopt(now_); }
  void go_back() { now_.adopt(before_); }

  DimmingPoint at(double conduction_deg) {
    const Operation operation{drive_, conduction_deg};
    SteadyFigures figures = now_.steady(operation);
    DimmingPoint point{conduction_deg, figures.lamp_power_w, figures.rms_a, std::nullopt, true};
    for (int i = 0; i < most_repeats && !figures.periodic && point.steady; ++i) {
      look_closer(operation, point);
      if (!point.steady) break;
      figures = now_.steady(operation);
      if (figures.periodic) point.power_w = figures.lamp_power_w;
      point.rms_a = figures.rms_a;
    }
    if (light_) {
      Waveform wave;
      wave.with_light = true;
      now_.run(operation, 2, wave);
      point.light = mean(wave, wave.light[0]);
    }
    return point;
  }

 private:
  /// Half cycles that do not repeat may only creep, or differ from each other in turn.
  void look_closer(const Operation& operation, DimmingPoint& point) {
    std::vector<double> power_w;
    for (int i = 0; i < flicker_half_cycles; ++i) power_w.push_back(now_.half_cycle(operation).lamp_power_w);
    double sum = 0.0, most = 0.0;
    for (std::size_t i = 0; i < power_w.size(); ++i) {
      sum += power_w[i];
      if (i >= 2) most = std::max(most, 0.5 * std::abs(power_w[i] - 2.0 * power_w[i - 1] + power_w[i - 2]));
    }
    point.power_w = sum / flicker_half_cycles;
    point.steady = most < flicker_share * point.power_w;
  }

  Drive drive_;
  bool light_;
  DrivenChannel now_;
  DrivenChannel before_;
};

/// `settings` in the order of the sweep. Where the level jumps, or lamps come on or go out, the step before is halved.
/// full: power and light at the highest setting, where they are known; the first setting's otherwise.
std::vector<DimmingPoint> swept(Sweep& sweep, std::vector<double> settings, std::optional<DimmingPoint> full) {
  std::reverse(settings.begin(), settings.end());
  std::vector<DimmingPoint> points;
  int halved = 0;
  while (!settings.empty()) {
    const double next = settings.back();
    sweep.keep();
    const DimmingPoint point = sweep.at(next);
    if (!full) full = point;
    if (!points.empty()) {
      const auto level = [&](const DimmingPoint& p) {
        const double whole = p.light ? full->light.value_or(0.0) : full->power_w;
        return whole > 0.0 ? p.light.value_or(p.power_w) / whole : 0.0;
      };
      const DimmingPoint& last = points.back();
      const bool jumps = std::abs(level(point) - level(last)) > jump_share;
      const bool switches = (level(point) > dark_share) != (level(last) > dark_share);
      const bool clear = point.steady && last.steady;  // flickering lamps jump anyhow
      if (clear && (jumps || switches) && halved < most_halvings && std::abs(next - last.setting) > 1.5 * closest_deg) {
        ++halved;
        sweep.go_back();
        settings.push_back(0.5 * (next + last.setting));
        continue;
      }
    }
    settings.pop_back();
    points.push_back(point);
  }
  return points;
}

/// Dense where the eye is keen.
std::vector<double> duties() {
  std::vector<double> all{least_duty, 2e-3, 5e-3, 0.01, 0.02, 0.03, 0.05, 0.07};
  for (int i = 2; i <= 20; ++i) all.push_back(0.05 * i);
  return all;
}

std::vector<DimmingPoint> dc_points(const Channel& channel, Mode mode, std::span<const LampGroup> lamps,
                                    const DimmingOptions& options, bool light) {
  std::vector<DimmingPoint> points;
  std::optional<PulsedVoltage> pulses;
  if (mode == Mode::dc_pwm) pulses.emplace(channel, lamps, options.supply_v);
  for (const double duty : duties()) {
    Waveform wave;
    wave.with_light = true;
    const PulseFigures figures = pulses ? pulses->steady(duty, light ? &wave : nullptr)
                                        : pulsed_current(channel, lamps, duty, light ? &wave : nullptr);
    DimmingPoint& point =
        points.emplace_back(DimmingPoint{duty, figures.lamp_power_w, figures.rms_a, std::nullopt, figures.periodic});
    if (light && !wave.light[0].empty()) point.light = mean(wave, wave.light[0]);
  }
  return points;
}

/// Shares of the light at the highest setting.
void relative_light(std::vector<DimmingPoint>& points, double full) {
  for (DimmingPoint& point : points) {
    if (point.light) *point.light = full > 0.0 ? *point.light / full : 0.0;
  }
}

}  // namespace

std::vector<double> conduction_angles(const Output& output, double step_deg) {
  const double low = std::max(output.min_conduction_deg.value_or(least_conduction_deg), 1.0);
  const double high = std::max(std::min(output.max_conduction_deg.value_or(180.0), 180.0), low);
  const int parts = std::max(1, static_cast<int>(std::ceil((high - low) / step_deg - 1e-9)));
  std::vector<double> all;
  for (int i = 0; i <= parts; ++i) all.push_back(low + (high - low) * i / parts);
  return all;
}

Setting setting_of(Mode mode) {
  return mode == Mode::dc_pwm || mode == Mode::dc_constant_current ? Setting::duty : Setting::conduction_deg;
}

bool has_setting(Mode mode) { return mode != Mode::on_off && mode != Mode::none; }

void need_fed_by(const Channel& channel, Mode mode, std::span<const LampGroup> lamps) {
  if (mode == Mode::trailing_edge && channel.output.switch_kind == SwitchKind::triac) {
    throw Error(ErrorCode::input_refused, "a triac cannot cut a trailing edge", Place{}, "Ask for leading_edge");
  }
  for (const LampGroup& group : lamps) {
    const FamilyInfo& family = group.lamp.family();
    const bool suits = setting_of(mode) == Setting::conduction_deg ? fed_by_mains(family.feed)
                       : mode == Mode::dc_pwm ? fed_by_dc(family.feed) && family.feed != Feed::dc_current
                                              : family.dc_current_a != nullptr && family.feed != Feed::dc_voltage;
    if (suits) continue;
    throw Error(ErrorCode::input_refused,
                fmt::format("a lamp of family {} cannot be fed by {}", family.name, mode_name(mode)), Place{},
                "Ask for a channel that feeds such lamps");
  }
}

std::vector<Mode> dimming_modes(const Channel& channel) {
  const Output& output = channel.output;
  if (output.kind == OutputKind::dc_pwm) return {Mode::dc_pwm};
  if (output.kind == OutputKind::dc_constant_current) return {Mode::dc_constant_current};
  if (output.kind == OutputKind::relay) return {};
  std::vector<Mode> modes;
  for (const Edge edge : output.edges) {
    if (edge == Edge::leading) modes.push_back(Mode::leading_edge);
    if (edge == Edge::trailing && output.switch_kind != SwitchKind::triac) modes.push_back(Mode::trailing_edge);
  }
  return modes;
}

DimmingCurve dimming_curve(const Channel& channel, Mode mode, std::span<const LampGroup> lamps,
                           const DimmingOptions& options) {
  if (!has_setting(mode)) {
    throw Error(ErrorCode::input_refused, fmt::format("mode {} does not dim", mode_name(mode)), Place{},
                "Ask for leading_edge, trailing_edge, dc_pwm or dc_constant_current, as the channel has it");
  }
  need_fed_by(channel, mode, lamps);
  DimmingCurve curve;
  curve.mode = mode;
  for (const LampGroup& group : lamps) curve.lamps += group.count;
  const bool light = options.light && lamps.size() == 1 && lamps[0].lamp.family().light != nullptr;
  if (light) curve.light_law = lamps[0].lamp.family().light_law;
  if (setting_of(mode) == Setting::duty) {
    curve.supply_v = options.supply_v.value_or(channel.output.supply_voltage_v.value_or(0.0));
    curve.rising = dc_points(channel, mode, lamps, options, light);
    relative_light(curve.rising, curve.rising.back().light.value_or(0.0));
    curve.falling = curve.rising;
    return curve;
  }
  curve.supply_v = options.supply_v.value_or(channel.supply.voltage_v);
  const Path path = path_of(channel, curve.supply_v);
  const Drive drive = mode == Mode::leading_edge ? Drive::leading_edge : Drive::trailing_edge;
  const std::vector<double> angles = conduction_angles(channel.output, options.step_deg);
  Sweep down(path, drive, lamps, options, light);
  curve.falling = swept(down, {angles.rbegin(), angles.rend()}, std::nullopt);
  std::reverse(curve.falling.begin(), curve.falling.end());
  Sweep up(path, drive, lamps, options, light);
  curve.rising = swept(up, angles, curve.falling.back());
  const double full = curve.rising.back().light.value_or(0.0);
  relative_light(curve.rising, full);
  relative_light(curve.falling, full);
  return curve;
}

namespace {

/// A sweep as settings and levels.
struct Levels {
  std::vector<double> setting;
  std::vector<double> level;

  Levels(const std::vector<DimmingPoint>& points, bool by_light, double top_w) {
    for (const DimmingPoint& point : points) {
      setting.push_back(point.setting);
      level.push_back(by_light ? point.light.value_or(0.0) : top_w > 0.0 ? point.power_w / top_w : 0.0);
    }
  }
  [[nodiscard]] std::size_t size() const { return setting.size(); }

  /// Least setting from which on, without a gap, the level is above this; nothing where it is not at the highest.
  [[nodiscard]] std::optional<std::size_t> above_from(double least) const {
    std::optional<std::size_t> from;
    for (std::size_t i = size(); i-- > 0 && level[i] > least;) from = i;
    return from;
  }
};

double dead_travel(const Levels& sweep) {
  const double shortest = 0.05 * (sweep.setting.back() - sweep.setting.front());
  double sum = 0.0;
  for (std::size_t i = 0; i + 1 < sweep.size();) {
    double least = sweep.level[i];
    double most = least;
    std::size_t j = i;
    for (; j + 1 < sweep.size(); ++j) {
      least = std::min(least, sweep.level[j + 1]);
      most = std::max(most, sweep.level[j + 1]);
      if (most - least >= 1.0 - full_share) break;
    }
    const double length = sweep.setting[j] - sweep.setting[i];
    const bool counts = j > i && length >= shortest;
    if (counts) sum += length;
    i = counts ? j : i + 1;
  }
  return sum;
}

void add_jumps(const Levels& sweep, bool rising, DimmingRange& range) {
  for (std::size_t i = 1; i < sweep.size(); ++i) {
    const double share = sweep.level[i] - sweep.level[i - 1];
    const bool close = sweep.setting[i] - sweep.setting[i - 1] <= 1.5 * closest_deg;
    if (close && std::abs(share) > jump_share) {
      range.jumps.push_back({sweep.setting[i - 1], sweep.setting[i], share, rising});
    }
  }
}

}  // namespace

DimmingRange range_of(const DimmingCurve& curve) {
  DimmingRange range;
  range.by_light = !curve.light_law.empty();
  range.lowest = curve.rising.front().setting;
  range.highest = curve.rising.back().setting;
  const bool phase_cut = setting_of(curve.mode) == Setting::conduction_deg;
  const double top_w = std::max(curve.rising.back().power_w, curve.falling.back().power_w);
  const Levels up(curve.rising, range.by_light, top_w);
  const Levels down(curve.falling, range.by_light, top_w);
  const double dark = phase_cut ? dark_share : 0.0;
  const auto starts = up.above_from(dark);
  const auto stops = down.above_from(dark);
  if (!starts || !stops || !(top_w > 0.0)) return range;
  range.runs = true;
  range.starts_at = up.setting[*starts];
  range.stops_at = down.setting[*stops];

  const Levels power(curve.rising, false, top_w);
  const std::size_t top = std::max(up.above_from(full_share * up.level.back()).value_or(up.size() - 1),
                                   power.above_from(full_share).value_or(up.size() - 1));
  range.full_at = range.max_setting = up.setting[top];
  range.full_power_w = curve.rising[top].power_w;
  // Lamps that flicker somewhere below, and run steadily above.
  std::size_t least = top;
  while (least > *starts && curve.rising[least - 1].steady) --least;
  for (const DimmingPoint& point : curve.falling) {
    while (!point.steady && least < top && up.setting[least] <= point.setting) ++least;
  }
  range.steady = curve.rising[least].steady;
  range.min_setting = up.setting[least];
  range.least_share = up.level[least] / up.level[top];
  range.least_power_share = curve.rising[least].power_w / range.full_power_w;
  range.dead_travel = dead_travel(up);
  double highest = 0.0;
  for (std::size_t i = 0; i <= top; ++i) {
    highest = std::max(highest, up.level[i]);
    range.falls_by = std::max(range.falls_by, highest - up.level[i]);
  }
  if (phase_cut) {
    add_jumps(up, true, range);
    add_jumps(down, false, range);
  }
  return range;
}

namespace {

/// Straight-line value of a sweep at a setting within it.
double value_at(const std::vector<double>& setting, const std::vector<double>& value, double at) {
  const auto above = std::lower_bound(setting.begin(), setting.end(), at);
  if (above == setting.begin()) return value.front();
  if (above == setting.end()) return value.back();
  const auto i = static_cast<std::size_t>(above - setting.begin());
  return std::lerp(value[i - 1], value[i], (at - setting[i - 1]) / (setting[i] - setting[i - 1]));
}

}  // namespace

DimmingRange range_for_all(std::span<const DimmingCurve> curves) {
  DimmingRange all = range_of(curves.front());
  for (const DimmingCurve& curve : curves.subspan(1)) {
    const DimmingRange one = range_of(curve);
    if (!one.runs) return one;
    all.starts_at = std::max(all.starts_at, one.starts_at);
    all.stops_at = std::max(all.stops_at, one.stops_at);
    all.full_at = std::max(all.full_at, one.full_at);
    all.min_setting = std::max(all.min_setting, one.min_setting);
    all.max_setting = std::max(all.max_setting, one.max_setting);
    all.dead_travel = std::max(all.dead_travel, one.dead_travel);
    all.falls_by = std::max(all.falls_by, one.falls_by);
    all.steady = all.steady && one.steady;
  }
  if (!all.runs) return all;
  const DimmingCurve& nominal = curves.front();
  const Levels level(nominal.rising, all.by_light, nominal.rising.back().power_w);
  const Levels power(nominal.rising, false, nominal.rising.back().power_w);
  const auto share = [&](const Levels& sweep) {
    return value_at(sweep.setting, sweep.level, all.min_setting) /
           value_at(sweep.setting, sweep.level, all.max_setting);
  };
  all.least_share = share(level);
  all.least_power_share = share(power);
  all.full_power_w = value_at(power.setting, power.level, all.max_setting) * nominal.rising.back().power_w;
  return all;
}

}  // namespace lampload
