#include "core/advice/load.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/advice/dimming.h"
#include "core/advice/load_spread.h"

namespace lampload {
namespace {

constexpr double angle_step_deg = 10.0;
constexpr double phase_step_deg = 15.0;
constexpr double longest_ramp_s = 0.1;  // longer soft starts are taken as this long: the safe side
constexpr double uncut_deg = 180.0;
// Where only the worst of many operating points is looked for, ringing need not be followed for long.
constexpr Accuracy rough = [] {
  Accuracy accuracy = screening;
  accuracy.close_steps = 80.0;
  return accuracy;
}();

std::vector<double> grid(double first, double last, double step) {
  const int parts = std::max(1, static_cast<int>(std::ceil((last - first) / step - 1e-9)));
  std::vector<double> all;
  for (int i = 0; i <= parts; ++i) all.push_back(first + (last - first) * i / parts);
  return all;
}

Drive drive_of(Mode mode) {
  if (mode == Mode::leading_edge) return Drive::leading_edge;
  if (mode == Mode::trailing_edge) return Drive::trailing_edge;
  return Drive::always_on;
}

}  // namespace

Load::Load(const Channel& channel, Mode mode, Margins margins)
    : channel_(channel), mode_(mode), margins_(std::move(margins)) {
  for (const double supply_v : margins_.supplies_v) paths_.push_back(path_of(channel, supply_v));
  const Output& output = channel.output;
  angles_ = mode == Mode::on_off ? std::vector<double>{180.0} : conduction_angles(output, angle_step_deg);
  if (mode != Mode::on_off) soft_start_s_ = std::min(output.soft_start_s.value_or(0.0), longest_ramp_s);
  if (soft_start_s_ > 0.0) {
    phases_ = {0.0};
    return;
  }
  // A trailing edge closes at the zero crossing by its nature, unless the description says that it does not.
  if (output.zero_cross_turn_on.value_or(mode == Mode::trailing_edge)) {
    phases_ = {0.0};
    if (output.switch_kind == SwitchKind::relay && output.contact_bounce_s.value_or(0.0) > 0.0) {
      // The first touch is at the crossing; which of the next ones carries is chance, and for how long as well.
      const double bounce_deg = 360.0 * channel.supply.frequency_hz * *output.contact_bounce_s;
      phases_ = grid(0.0, std::min(bounce_deg, 180.0 - phase_step_deg), phase_step_deg);
      for (Path& path : paths_) path.bounce_s = 0.0;
    }
  } else if (mode == Mode::leading_edge) {
    phases_ = grid(180.0 - angles_.back(), 180.0 - angles_.front(), phase_step_deg);
  } else {
    phases_ = grid(0.0, 180.0 - phase_step_deg, phase_step_deg);
  }
}

std::vector<Mix> mixes_of(std::span<const Lamp> lamps) {
  std::vector<Mix> mixes;
  for (const Lamp& lamp : lamps) mixes.push_back({{lamp, 1}});
  return mixes;
}

Load Load::with(std::vector<LoadSpread> spread, std::size_t lamps) const {
  Load other = *this;
  other.margins_.spread = std::move(spread);
  std::vector<Mix>& mixes = other.margins_.lamps;
  if (lamps < mixes.size()) mixes.erase(mixes.begin() + static_cast<std::ptrdiff_t>(lamps), mixes.end());
  return other;
}

std::size_t Load::add(Mix mix) {
  margins_.lamps.push_back(std::move(mix));
  return margins_.lamps.size() - 1;
}

Mix Load::times(std::size_t mix, int count) const {
  Mix groups = margins_.lamps[mix];
  for (LampGroup& group : groups) group.count *= count;
  return groups;
}

namespace {

/// What each kind of figure is multiplied with.
struct Factors {
  double heating = 1.0;
  double peak = 1.0;
  double surge_peak = 1.0;
  double surge_heating = 1.0;
};

Factors factors_of(const std::vector<LoadSpread>& spreads, const Mix& mix, bool minimum, int count) {
  Factors all;
  for (std::size_t i = 0; i < spreads.size(); ++i) {
    const LoadSpread& spread = spreads[i];
    const auto widen = [&](double& factor, double relative) {
      factor = minimum ? std::min(factor, std::max(0.0, 1.0 - coverage * relative))
                       : std::max(factor, 1.0 + coverage * relative);
    };
    widen(all.heating, spread.of_mean(spread.continuous_current, count * mix[i].count));
    widen(all.peak, spread.of_one(spread.repetitive_peak));
    widen(all.surge_peak, spread.of_one(spread.surge_peak));
    widen(all.surge_heating, spread.of_one(spread.surge_i2t));
  }
  return all;
}

}  // namespace

SteadyFigures Load::spread_steady(int count, const Situation& at, bool minimum, bool screened) {
  const Factors factors = factors_of(margins_.spread, margins_.lamps[at.lamp], minimum, count);
  SteadyFigures figures = steady(count, at, screened);
  for (double* current : {&figures.rms_a, &figures.mean_abs_a, &figures.lamp_power_w}) *current *= factors.heating;
  for (double* current : {&figures.peak_a, &figures.rise_a_per_s, &figures.cut_a, &figures.midway_a, &figures.latch_a})
    *current *= factors.peak;
  figures.conduction_w *= factors.heating * factors.heating;
  figures.gate_end_a *= factors.peak;
  figures.switching_w *= factors.peak;
  figures.cut_energy_j *= factors.peak * factors.peak;
  figures.clamp_j *= factors.peak * factors.peak;
  return figures;
}

TurnOnFigures Load::spread_turn_on(int count, const Situation& at, bool minimum, bool screened) {
  const Factors factors = factors_of(margins_.spread, margins_.lamps[at.lamp], minimum, count);
  TurnOnFigures figures = turn_on(count, at, screened);
  figures.peak_a *= factors.surge_peak;
  figures.rise_a_per_s *= factors.surge_peak;
  figures.charge_c *= factors.surge_heating;
  figures.i2t_a2s *= factors.surge_heating * factors.surge_heating;
  figures.junction_rise_k *= factors.surge_heating * factors.surge_heating;
  return figures;
}

LineCycle Load::spread_cycle(int count, const Situation& at, bool screened) {
  const Factors factors = factors_of(margins_.spread, margins_.lamps[at.lamp], false, count);
  LineCycle figures = cycle(count, at, screened);
  for (double* size : {&figures.rms_a, &figures.neutral_rms_a, &figures.harmonics.power_w}) *size *= factors.heating;
  for (double& current : figures.harmonics.rms_a) current *= factors.heating;
  return figures;
}

double Load::value(const Constraint& constraint, int count, const Situation& at, bool screened) {
  if (constraint.of_one) count = 1;
  const Situation uncut{at.supply, at.lamp, uncut_deg};
  if (constraint.of_compared) {
    return constraint.of_compared(steady(count, at, screened), steady(count, uncut, screened));
  }
  if (constraint.of_off) return constraint.of_off(off(count, at), steady(count, uncut, true));
  if (constraint.of_range) return constraint.of_range(range(count, at));
  if (constraint.of_cycle) return constraint.of_cycle(spread_cycle(count, at, screened || constraint.advice));
  if (constraint.of_turn_on) {
    TurnOnFigures figures = spread_turn_on(count, at, constraint.minimum, screened);
    if (constraint.running) {
      const Situation fully_on{at.supply, at.lamp, angles_.back()};
      const SteadyFigures running = spread_steady(count, fully_on, constraint.minimum, true);
      figures.running_w = running.conduction_w + running.switching_w;
    }
    return constraint.of_turn_on(figures);
  }
  return constraint.of_steady(spread_steady(count, at, constraint.minimum, screened));
}

std::string Load::told(const Constraint& constraint, int count, const Situation& at) {
  if (constraint.tell_cycle) return constraint.tell_cycle(cycle(count, at, constraint.advice));
  if (!constraint.tell_compared) return "";
  return constraint.tell_compared(steady(count, at), steady(count, {at.supply, at.lamp, uncut_deg}));
}

const SteadyFigures& Load::steady(int count, const Situation& at, bool screened) {
  const std::tuple key{screened, count, at};
  if (const auto found = runs_->steady.find(key); found != runs_->steady.end()) return found->second;
  const Mix mix = times(at.lamp, count);
  auto channel = std::make_unique<DrivenChannel>(paths_[at.supply], mix, screened ? rough : Accuracy{});
  if (const DrivenChannel* start = nearest(at)) channel->adopt(*start);
  const SteadyFigures figures = channel->steady({drive_of(mode_), at.setting_deg});
  if (count == 1) runs_->settled[at] = std::move(channel);
  return runs_->steady.emplace(key, figures).first->second;
}

// Only states of a single lamp are started from, so that a result does not depend on which counts were tried before.
const DrivenChannel* Load::nearest(const Situation& at) const {
  const DrivenChannel* best = nullptr;
  double best_distance = 0.0;
  for (const auto& [where, channel] : runs_->settled) {
    const double distance = std::abs(where.setting_deg - at.setting_deg) + (where.lamp == at.lamp ? 0.0 : 20.0) +
                            (where.lamp == 0 || where.lamp == at.lamp ? 0.0 : 200.0) +
                            (where.supply == at.supply ? 0.0 : 15.0);
    if (best == nullptr || distance < best_distance) {
      best = channel.get();
      best_distance = distance;
    }
  }
  return best;
}

namespace {

/// Where the supply's half cycles differ, the worse of both, figure by figure.
TurnOnFigures worse_half_cycle(const Path& path, const Mix& mix, double phase_deg, const Accuracy& accuracy) {
  const TurnOnFigures one = lampload::turn_on(path, mix, phase_deg, nullptr, accuracy);
  if (path.half_wave_symmetric()) return one;
  const TurnOnFigures other = lampload::turn_on(path, mix, phase_deg + 180.0, nullptr, accuracy);
  TurnOnFigures worse = other.peak_a > one.peak_a ? other : one;
  for (double TurnOnFigures::*figure : {&TurnOnFigures::i2t_a2s, &TurnOnFigures::charge_c, &TurnOnFigures::rise_a_per_s,
                                        &TurnOnFigures::junction_rise_k}) {
    worse.*figure = std::max(one.*figure, other.*figure);
  }
  return worse;
}

}  // namespace

const TurnOnFigures& Load::turn_on(int count, const Situation& at, bool screened) {
  const std::tuple key{screened, count, at};
  if (const auto found = runs_->turn_on.find(key); found != runs_->turn_on.end()) return found->second;
  Mix mix = times(at.lamp, count);
  for (std::size_t g = 0; g < mix.size(); ++g) mix[g].start = start_state(at, g);
  TurnOnFigures figures;
  if (starts_softly()) {
    DrivenChannel channel(paths_[at.supply], mix, screened ? rough : estimating);
    figures = channel.soft_start({drive_of(mode_), angles_.back()}, angles_.front(), soft_start_s_);
  } else {
    figures = worse_half_cycle(paths_[at.supply], mix, at.setting_deg, screened ? rough : Accuracy{});
  }
  return runs_->turn_on.emplace(key, figures).first->second;
}

// From the lamps as they run: a reservoir comes down to its rest faster than a snubber brings it up.
const SteadyFigures& Load::off(int count, const Situation& at) {
  const std::tuple key{count, Situation{at.supply, at.lamp, 0.0}};
  if (const auto found = runs_->off.find(key); found != runs_->off.end()) return found->second;
  steady(1, {at.supply, at.lamp, uncut_deg}, true);
  DrivenChannel channel(paths_[at.supply], times(at.lamp, count), estimating);
  channel.adopt(*nearest({at.supply, at.lamp, uncut_deg}));
  return runs_->off.emplace(key, channel.steady({Drive::off, 0.0})).first->second;
}

const DimmingRange& Load::range(int count, const Situation& at) {
  const std::tuple key{count, Situation{at.supply, at.lamp, 0.0}};
  if (const auto found = runs_->range.find(key); found != runs_->range.end()) return found->second;
  constexpr double step_deg = 10.0;
  const DimmingOptions options{
      .supply_v = margins_.supplies_v[at.supply], .step_deg = step_deg, .accuracy = estimating, .light = false};
  return runs_->range.emplace(key, range_of(dimming_curve(channel_, mode_, times(at.lamp, count), options)))
      .first->second;
}

const LineCycle& Load::cycle(int count, const Situation& at, bool screened) {
  const std::tuple key{screened, count, at};
  if (const auto found = runs_->cycle.find(key); found != runs_->cycle.end()) return found->second;
  DrivenChannel channel(paths_[at.supply], times(at.lamp, count), screened ? rough : Accuracy{});
  if (const DrivenChannel* start = nearest(at)) channel.adopt(*start);
  Waveform waveform;
  const SteadyFigures figures = channel.steady({drive_of(mode_), at.setting_deg}, &waveform);
  return runs_->cycle
      .emplace(key, line_cycle(waveform, figures, margins_.supplies_v[at.supply], paths_[at.supply].frequency_hz))
      .first->second;
}

// The central lamp at every angle, the others at the one that left it hottest. Each lamp by itself.
const std::vector<double>& Load::start_state(const Situation& at, std::size_t group) {
  const std::tuple key{at.supply, at.lamp, group};
  if (const auto found = runs_->warm.find(key); found != runs_->warm.end()) return found->second.state;
  const Lamp& lamp = margins_.lamps[at.lamp][group].lamp;
  std::vector<Operation> operations;
  for (const double angle : angles_) operations.push_back({drive_of(mode_), angle});
  if (at.lamp != 0 && stays_warm(lamp)) {
    start_state({at.supply, 0, at.setting_deg}, group);
    operations = {operations[runs_->warm[{at.supply, 0, group}].hottest]};
  }
  return runs_->warm.emplace(key, warm_start(paths_[at.supply], lamp, operations)).first->second.state;
}

}  // namespace lampload
