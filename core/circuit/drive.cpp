#include "core/circuit/drive.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <string_view>
#include <utility>

#include "core/circuit/edge_loss.h"
#include "core/circuit/switch_course.h"
#include "core/lamp/slow_state.h"

namespace lampload {
namespace {

constexpr double rise_window_s = 1e-6;  // a bare triac takes about this long to turn on
constexpr int rise_parts = 4;           // and is followed in so many steps or more
constexpr int most_periods = 40;
constexpr int calming_periods = 3;    // where nothing repeats, so many without a leap
constexpr int last_periods = 6;       // and then these speak: a whole number of twos and threes
constexpr int most_stalled = 6;       // periods that come no nearer to repeating
constexpr double nearer = 0.7;        // of the nearest so far
constexpr double state_slack = 3.0;   // states may be off by so much more than the figures, which tell for themselves
constexpr double longest_leap = 0.5;  // of a state's size, beyond what the simulation itself reached
// Likewise backwards, from where the state came: no steady state lies there, but several states may be on their way.
constexpr double backwards_off = 0.02;
constexpr double backwards_on = 0.2;
constexpr std::size_t outputs = 3;

/// Steepest rise of |switch current| over a window after closing. The window ends at each sample.
class Rise {
 public:
  void start(const Instant& at) {
    samples_.assign(1, {at.time_s, 0.0});
    first_ = 0;
    open_ = true;
  }
  void add(const Instant& at) {
    if (!open_) return;
    samples_.push_back({at.time_s, std::abs(at.switch_a)});
    const double begin_s = at.time_s - rise_window_s;
    while (first_ + 2 < samples_.size() && samples_[first_ + 1].time_s <= begin_s) ++first_;
    const Sample& before = samples_[first_];
    const Sample& after = samples_[first_ + 1];
    const double share = std::max(0.0, (begin_s - before.time_s) / (after.time_s - before.time_s));
    steepest_ = std::max(steepest_, (samples_.back().a - std::lerp(before.a, after.a, share)) / rise_window_s);
    if (at.time_s - samples_.front().time_s > 200.0 * rise_window_s) open_ = false;
  }
  [[nodiscard]] double steepest() const { return steepest_; }

 private:
  struct Sample {
    double time_s, a;
  };
  std::vector<Sample> samples_;
  std::size_t first_ = 0;
  bool open_ = false;
  double steepest_ = 0.0;
};

void record_node(Waveform& waveform, const Instant& at) {
  waveform.time_s.push_back(at.time_s);
  waveform.supply_v.push_back(at.supply_v);
  waveform.terminal_v.push_back(at.terminal_v);
  waveform.current_a.push_back(at.current_a);
  waveform.switch_a.push_back(at.switch_a);
}

/// Of half cycles that differ: means of what heats, extremes of the rest.
SteadyFigures together(std::span<const SteadyFigures> all) {
  SteadyFigures result = all.back();
  const double n = static_cast<double>(all.size());
  const auto over_all = [&](const auto& of, bool squares) {
    double sum = 0.0;
    for (const SteadyFigures& one : all) sum += squares ? of(one) * of(one) : of(one);
    return squares ? std::sqrt(sum / n) : sum / n;
  };
  for (double SteadyFigures::*rms : {&SteadyFigures::rms_a, &SteadyFigures::terminal_rms_v}) {
    result.*rms = over_all([&](const SteadyFigures& one) { return one.*rms; }, true);
  }
  for (double SteadyFigures::*mean : {&SteadyFigures::mean_abs_a, &SteadyFigures::conduction_w,
                                      &SteadyFigures::switching_w, &SteadyFigures::lamp_power_w}) {
    result.*mean = over_all([&](const SteadyFigures& one) { return one.*mean; }, false);
  }
  for (const SteadyFigures& one : all) {
    for (double SteadyFigures::*high :
         {&SteadyFigures::peak_a, &SteadyFigures::rise_a_per_s, &SteadyFigures::cut_a, &SteadyFigures::cut_energy_j,
          &SteadyFigures::clamp_j, &SteadyFigures::fallen_deg}) {
      result.*high = std::max(result.*high, one.*high);
    }
    for (double SteadyFigures::*low : {&SteadyFigures::midway_a, &SteadyFigures::latch_a, &SteadyFigures::gate_end_a,
                                       &SteadyFigures::released_deg}) {
      result.*low = std::min(result.*low, one.*low);
    }
  }
  for (std::size_t i = 0; i < result.lamps.size(); ++i) {
    result.lamps[i].rms_a = over_all([&](const SteadyFigures& one) { return one.lamps[i].rms_a; }, true);
    for (const SteadyFigures& one : all) {
      result.lamps[i].ripple_v = std::max(result.lamps[i].ripple_v, one.lamps[i].ripple_v);
    }
  }
  return result;
}

}  // namespace

DrivenChannel::DrivenChannel(const Path& path, std::span<const LampGroup> lamps, const Accuracy& accuracy)
    : network_(path, lamps, 0.0, accuracy), repeat_(accuracy.repeat), symmetric_(path.half_wave_symmetric()) {
  for (const LampGroup& group : lamps) {
    lamps_.push_back(group.lamp);
    reservoirs_.push_back(index_of(group.lamp.family().states, reservoir_state));
    for (const StateSpec& state : group.lamp.family().states) {
      specs_.push_back(&state);
      slow_s_.push_back(slow_time_s(state, group.lamp.family().parameters, group.lamp.parameters()));
    }
    count_ += group.count;
  }
}

void DrivenChannel::adopt(const DrivenChannel& other) {
  network_.adopt(other.network_);
  half_cycle_ = other.half_cycle_;
  secants_ = other.secants_;
  last_peak_a_ = other.last_peak_a_ * count_ / other.count_;
  const double ratio = count_ / other.count_;
  secants_.scale(Network::current_state, ratio);
  for (std::size_t k = 0; k < outputs; ++k) secants_.scale(Network::node_states + specs_.size() + k, ratio);
}

void DrivenChannel::record(Waveform& waveform, const Instant& at) const {
  record_node(waveform, at);
  waveform.lamp_a.resize(lamps_.size());
  waveform.light.resize(lamps_.size());
  for (std::size_t i = 0; i < lamps_.size(); ++i) {
    const double current_a = network_.lamp_currents_a()[i];
    waveform.lamp_a[i].push_back(current_a);
    const FamilyInfo& family = lamps_[i].family();
    if (!waveform.with_light || family.light == nullptr) continue;
    waveform.light[i].push_back(
        family.light(lamps_[i].parameters(), network_.devices()[i]->state(), at.terminal_v, current_a));
  }
}

void DrivenChannel::run(const Operation& operation, int half_cycles, Waveform& waveform, double first_on_deg) {
  for (int i = 0; i < half_cycles; ++i) half_cycle(operation, &waveform, i == 0 ? first_on_deg : 0.0);
}

void DrivenChannel::idle(int half_cycles, Waveform& waveform) {
  network_.set_closed(false);
  half_cycle_ += half_cycles;
  network_.run_to(static_cast<double>(half_cycle_) * 0.5 / network_.path().frequency_hz,
                  [&](const Instant&, const Instant& at) {
                    record(waveform, at);
                    return true;
                  });
}

// Every family is odd: what may be negative changes its sign from half cycle to half cycle, what may not does not.
std::vector<double> DrivenChannel::state() const {
  std::vector<double> state = network_.state();
  if (symmetric_ && half_cycle_ % 2 != 0) {
    for (std::size_t i = 0; i < state.size(); ++i) {
      if (i < Network::node_states || specs_[i - Network::node_states]->lower < 0.0) state[i] = -state[i];
    }
  }
  return state;
}

void DrivenChannel::set_state(std::vector<double> state) {
  for (std::size_t i = 0; i < state.size(); ++i) {
    const bool node = i < Network::node_states;
    const StateSpec* spec = node ? nullptr : specs_[i - Network::node_states];
    if (symmetric_ && half_cycle_ % 2 != 0 && (node || spec->lower < 0.0)) state[i] = -state[i];
    if (!node) state[i] = std::clamp(state[i], spec->lower, spec->upper);
  }
  network_.set_state(state);
}

std::vector<double> DrivenChannel::sizes(const std::vector<double>& state, const SteadyFigures& figures) const {
  const double peak_v = network_.path().supply_peak_v;
  const double omega = 2.0 * std::numbers::pi * network_.path().frequency_hz;
  std::vector<double> all;
  for (std::size_t i = 0; i < specs_.size(); ++i) {
    const std::string_view unit = specs_[i]->unit;
    if (slow_s_[i] > 0.0) {  // a temperature on which currents hang more than in proportion
      all.push_back(30.0);
      continue;
    }
    double least = 1e-3;
    if (unit == "V") least = 0.02 * peak_v;
    if (unit == "V^2") least = 0.02 * peak_v * peak_v;
    if (unit == "V s") least = 0.02 * peak_v / omega;
    if (unit == "K") least = 100.0;
    if (unit == "A") least = std::max(0.2 * figures.peak_a / count_, 1e-6);
    all.push_back(std::max(std::abs(state[Network::node_states + i]), least));
  }
  return all;
}

SteadyFigures DrivenChannel::half_cycle(const Operation& operation, Waveform* waveform, double earliest_on_deg) {
  const Path& path = network_.path();
  const double half_s = 0.5 / path.frequency_hz;
  const double start_s = static_cast<double>(half_cycle_) * half_s;
  const double end_s = static_cast<double>(++half_cycle_) * half_s;
  const double conduction_s = std::clamp(operation.conduction_deg / 180.0, 0.0, 1.0) * half_s;
  const bool off = operation.drive == Drive::off;
  const bool uncut = !off && (operation.drive == Drive::always_on || conduction_s > half_s - 1e-9);
  const bool leading = operation.drive == Drive::leading_edge;
  const double earliest_on_s = start_s + std::clamp(earliest_on_deg / 180.0, 0.0, 1.0) * half_s;
  const double on_s = std::max(uncut || !leading ? start_s : end_s - conduction_s, earliest_on_s);
  const double off_s = std::max(uncut || leading ? end_s : start_s + conduction_s, on_s);
  const double midway_s = 0.5 * (on_s + off_s);
  const bool triac = path.releases_at_zero && operation.drive != Drive::always_on;

  SteadyFigures figures;
  double square_a = 0.0;
  double square_v = 0.0;
  double mean_a = 0.0;
  double loss_j = 0.0;
  double lamp_j = 0.0;
  double clamp_j = 0.0;
  double edge_j = 0.0;
  double above_s = start_s;  // when the terminals were last above the sense level
  LampTrace lamps(network_, reservoirs_);
  Rise rise;
  bool released = false;
  bool gated = uncut;
  const auto observe = [&](const Instant& a, const Instant& b) {
    const double dt = b.time_s - a.time_s;
    square_v += square_integral(a.terminal_v, b.terminal_v, dt);
    lamp_j += 0.5 * (a.terminal_v + b.terminal_v) * b.lamp_charge_c;
    lamps.step(dt);
    if (std::abs(b.terminal_v) >= path.zero_cross_sense_v) above_s = b.time_s;
    const double power_w = 0.5 * (a.switch_a * a.switch_v + b.switch_a * b.switch_v);
    heat_.step(std::max(0.0, power_w), dt);
    if (!network_.closed()) {
      clamp_j += std::max(0.0, power_w) * dt;
    } else {
      square_a += square_integral_of_switch(a, b);
      mean_a += 0.5 * dt * (std::abs(a.switch_a) + std::abs(b.switch_a));
      loss_j += power_w * dt;
      const double size_a = std::abs(b.switch_a);
      figures.peak_a = std::max(figures.peak_a, highest_of_switch(a, b));
      rise.add(b);
      if (b.time_s >= on_s && b.time_s <= off_s) figures.latch_a = std::max(figures.latch_a, std::abs(b.current_a));
      if (a.time_s < midway_s && b.time_s >= midway_s) {
        figures.midway_a = std::abs(std::lerp(a.current_a, b.current_a, (midway_s - a.time_s) / dt));
      }
      if (triac && !gated && (size_a < path.holding_current_a || a.switch_a * b.switch_a < 0.0)) released = true;
    }
    if (waveform != nullptr) record(*waveform, b);
    return !released;
  };
  // While a clamp takes the current over, it is followed closely: an open switch is stepped with full damping.
  const auto run_out = [&](double until_s) {
    constexpr double first_s = 0.2e-6;
    constexpr double growth = 0.05;
    constexpr double ended = 1e-3;  // of the current that was cut
    const double cut_s = network_.now().time_s;
    double time_s = cut_s;
    do {
      time_s = std::min(until_s, time_s + std::max(first_s, growth * (time_s - cut_s)));
      network_.run_to(time_s, observe);
    } while (time_s < until_s && std::abs(network_.now().switch_a) > ended * figures.cut_a);
  };
  const auto run = [&](double until_s) {
    network_.watch(triac && !gated ? path.holding_current_a : 0.0);
    while (network_.now().time_s < until_s - 1e-12) {
      network_.run_to(until_s, observe);
      if (released) {
        released = false;
        network_.set_closed(false);
        if (network_.now().time_s > on_s) {
          figures.released_deg = 180.0 * (network_.now().time_s - start_s) / half_s;
        }
      }
    }
  };
  const auto cut = [&] {
    if (!network_.closed()) return;
    const Instant& now = network_.now();
    figures.cut_a = std::max(figures.cut_a, std::abs(now.current_a));
    if (path.edge_s > 0.0) edge_j += edge_loss_j(network_, now.terminal_v, now.terminal_v, 0.0, path.edge_s);
    network_.set_closed(false);
  };

  // An inrush must not set the measure for the small pulses that follow it.
  if (half_cycle_ > 1) network_.expect(last_peak_a_);
  if (off) {
    cut();
    run(end_s);
  } else if (on_s > start_s) {
    // Left closed by operation without a cut. A triac opens by itself, at the next zero.
    if (!triac) network_.set_closed(false);
    run(on_s);
  }
  if (!off && !network_.closed()) {
    const Instant& now = network_.now();
    const double closes_s = now.time_s;
    if (path.edge_s > 0.0) edge_j += edge_loss_j(network_, now.supply_v, now.terminal_v, now.supply_v, path.edge_s);
    rise.start(now);
    network_.set_closed(true);
    gated = true;
    for (int k = 1; k <= rise_parts; ++k) run(std::min(off_s, closes_s + k * rise_window_s / rise_parts));
    gated = uncut;
  }
  if (triac && !uncut) {
    gated = true;
    run(std::min(on_s + path.gate_pulse_s, off_s));
    figures.gate_end_a = std::abs(network_.now().current_a);
    gated = false;
  }
  run(off_s);
  if (!uncut && !triac && network_.closed()) {
    cut();
    run_out(end_s);
  }
  run(end_s);

  last_peak_a_ = figures.peak_a;
  figures.rms_a = std::sqrt(square_a / half_s);
  figures.mean_abs_a = mean_a / half_s;
  figures.rise_a_per_s = rise.steepest();
  figures.conduction_w = loss_j / half_s;
  figures.cut_energy_j = 0.5 * path.inductance_h * figures.cut_a * figures.cut_a;
  figures.clamp_j = clamp_j;
  figures.switching_w = edge_j / half_s;
  figures.fallen_deg = 180.0 * (above_s - start_s) / half_s;
  if (const double left_v = std::abs(network_.now().terminal_v); left_v > path.zero_cross_sense_v) {
    figures.fallen_deg = std::min(360.0, 180.0 * left_v / std::max(path.zero_cross_sense_v, 1e-3));
  }
  figures.terminal_rms_v = std::sqrt(square_v / half_s);
  figures.lamp_power_w = lamp_j / half_s;
  figures.lamps = lamps.figures(half_s);
  return figures;
}

SteadyFigures DrivenChannel::period(const Operation& operation) {
  const SteadyFigures first = half_cycle(operation, nullptr);
  if (symmetric_) return first;
  return together(std::array{first, half_cycle(operation, nullptr)});
}

SteadyFigures DrivenChannel::steady(const Operation& operation, Waveform* waveform) {
  const std::size_t lamp_states = specs_.size();
  SteadyFigures figures;
  double nearest_miss = std::numeric_limits<double>::infinity();
  int nearest_run = 0;
  secants_.begin();
  double last_rms_a = -1.0;
  double last_miss = std::numeric_limits<double>::infinity();
  std::vector<double> from = this->state();
  std::vector<SlowState> slow(lamp_states);
  const double period_s = (symmetric_ ? 0.5 : 1.0) / network_.path().frequency_hz;
  for (int run = 1; run <= most_periods; ++run) {
    figures = period(operation);
    figures.half_cycles = symmetric_ ? run : 2 * run;
    std::vector<double> to = this->state();
    for (std::size_t i = 0; i < lamp_states; ++i) {
      const std::size_t at = Network::node_states + i;
      if (slow_s_[i] > 0.0) to[at] = slow[i].next(from[at], to[at], period_s, slow_s_[i]);
    }
    const std::vector<double> size = sizes(to, figures);
    std::vector<double> residual(lamp_states);
    double miss = 0.0;
    for (std::size_t i = 0; i < lamp_states; ++i) {
      const std::size_t at = Network::node_states + i;
      residual[i] = (to[at] - from[at]) / (size[i] * repeat_);
      miss = std::max(miss, std::abs(residual[i]));
    }
    std::vector<double> value = to;
    for (const double figure : {figures.rms_a, figures.peak_a, figures.lamp_power_w}) value.push_back(figure);
    if (miss > 4.0 * last_miss) secants_.forget();
    secants_.add(residual, value);
    const Secants::Estimate estimate = secants_.estimate();

    double left = 0.0;  // to go, as far as the secants tell
    double leap = 0.0;
    bool astray = false;
    for (std::size_t i = 0; i < lamp_states; ++i) {
      const std::size_t at = Network::node_states + i;
      const double step = std::abs(estimate.value[at] - to[at]) / size[i];
      leap = std::max(leap, step);
      const double behind = (from[at] - estimate.value[at]) * (to[at] > from[at] ? 1.0 : -1.0);
      astray = astray || behind > (operation.drive == Drive::off ? backwards_off : backwards_on) * size[i];
      left = std::max(left, step / (state_slack * repeat_));
    }
    // Where half cycles do not repeat (a triac that lets go now here, now there) secants may point anywhere at the
    // node.
    for (std::size_t at = 0; at < Network::node_states; ++at) {
      const double whole =
          at == Network::current_state ? std::max(figures.peak_a, 1e-3) : network_.path().supply_peak_v;
      leap = std::max(leap, std::abs(estimate.value[at] - to[at]) / whole);
    }
    for (std::size_t k = to.size(); k < value.size(); ++k) {
      left = std::max(left, std::abs(estimate.value[k] - value[k]) / (repeat_ * std::max(value[k], 1e-4)));
    }
    const bool same = std::abs(figures.rms_a - last_rms_a) < repeat_ * std::max(figures.rms_a, 1e-4);
    const bool known = lamp_states == 0 ? same : estimate.own > 0 && estimate.unexplained < state_slack;
    if ((known && left < 1.0) || (miss < 0.1 && left < 1.0 && (lamp_states > 0 || same))) {
      figures.periodic = true;
      break;
    }
    last_rms_a = figures.rms_a;
    last_miss = miss;
    // A load that takes more the lower its reservoir stands discharges it faster and faster: secants of that point back
    // to where it came from, and beyond. Then the lamp is left to itself, and is on its way.
    if (astray) secants_.forget();
    if (miss < nearer * nearest_miss || astray) {
      nearest_miss = std::min(nearest_miss, miss);
      nearest_run = run;
    } else if (run - nearest_run >= most_stalled) {
      break;  // such as a triac that holds in one half cycle and not in the next
    }
    if (leap > 1e-9 && !astray) {
      const double share = std::min(1.0, longest_leap / leap);
      for (std::size_t i = 0; i < to.size(); ++i) to[i] += share * (estimate.value[i] - to[i]);
      set_state(to);
      to = this->state();
    }
    from = std::move(to);
  }
  if (!figures.periodic) {
    const int runs = figures.half_cycles;
    std::vector<SteadyFigures> last;
    for (int run = 0; run < calming_periods + last_periods; ++run) {
      figures = period(operation);
      figures.half_cycles = runs + (symmetric_ ? run + 1 : 2 * run + 2);
      if (run >= calming_periods) last.push_back(figures);
    }
    figures = together(last);
  }
  if (waveform != nullptr) {
    half_cycle(operation, waveform);
    half_cycle(operation, waveform);
  }
  return figures;
}

TurnOnFigures DrivenChannel::soft_start(const Operation& operation, double least_deg, double ramp_s) {
  const Path& path = network_.path();
  const double half_s = 0.5 / path.frequency_hz;
  const int steps = std::max(1, static_cast<int>(std::ceil(ramp_s / half_s - 1e-9)));
  heat_ = PulseHeat(path.pulse_10ms_k_per_w);
  TurnOnFigures figures;
  for (int k = 0; k <= steps; ++k) {
    const double conduction_deg = std::lerp(least_deg, operation.conduction_deg, static_cast<double>(k) / steps);
    const SteadyFigures one = half_cycle({operation.drive, conduction_deg}, nullptr);
    figures.rise_a_per_s = std::max(figures.rise_a_per_s, one.rise_a_per_s);
    figures.charge_c = std::max(figures.charge_c, one.mean_abs_a * half_s);
    figures.i2t_a2s = std::max(figures.i2t_a2s, one.rms_a * one.rms_a * half_s);
    if (one.peak_a <= figures.peak_a) continue;
    figures.peak_a = one.peak_a;
    figures.phase_deg = operation.drive == Drive::leading_edge ? 180.0 - conduction_deg : 0.0;
    figures.width_s = one.rms_a * one.rms_a * half_s / (one.peak_a * one.peak_a);
  }
  figures.junction_rise_k = heat_.peak_k();
  heat_ = PulseHeat(0.0);
  return figures;
}

TurnOnFigures turn_on(const Path& path, std::span<const LampGroup> lamps, double phase_deg, Waveform* waveform,
                      const Accuracy& accuracy) {
  const double half_s = 0.5 / path.frequency_hz;
  Network network(path, lamps, phase_deg / 180.0 * half_s, accuracy);
  TurnOnFigures figures;
  figures.phase_deg = phase_deg;
  Rise rise;
  PulseHeat heat(path.pulse_10ms_k_per_w);
  std::vector<Instant> samples;
  const auto observe = [&](const Instant& a, const Instant& b) {
    const double dt = b.time_s - a.time_s;
    heat.step(std::max(0.0, 0.5 * (a.switch_a * a.switch_v + b.switch_a * b.switch_v)), dt);
    figures.peak_a = std::max(figures.peak_a, highest_of_switch(a, b));
    figures.i2t_a2s += square_integral_of_switch(a, b);
    figures.charge_c += 0.5 * dt * (std::abs(a.switch_a) + std::abs(b.switch_a));
    rise.add(b);
    if (waveform != nullptr) record_node(*waveform, b);
    samples.push_back(b);
    return true;
  };
  const auto close = [&] {
    rise.start(network.now());
    network.set_closed(true);
    const double closes_s = network.now().time_s;
    for (int k = 1; k <= rise_parts; ++k) network.run_to(closes_s + k * rise_window_s / rise_parts, observe);
  };
  const double first_s = network.now().time_s;
  close();
  if (path.bounce_s > 0.0) {
    network.run_to(first_s + 0.5 * path.bounce_s, observe);
    network.set_closed(false);
    network.run_to(first_s + path.bounce_s, observe);
    close();
  }
  network.run_to(first_s + path.bounce_s + half_s, observe);
  figures.junction_rise_k = heat.peak_k();
  figures.rise_a_per_s = rise.steepest();
  for (std::size_t i = 1; i < samples.size(); ++i) {
    if (std::abs(samples[i].switch_a) >= 0.5 * figures.peak_a)
      figures.width_s += samples[i].time_s - samples[i - 1].time_s;
  }
  return figures;
}

}  // namespace lampload
