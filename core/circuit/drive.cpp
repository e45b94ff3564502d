#include "core/circuit/drive.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace lampload {
namespace {

constexpr double rise_window_s = 1e-6;   // a bare triac takes about this long to turn on
constexpr double gate_pulse_s = 100e-6;  // common practice, no source
constexpr int most_half_cycles = 120;
constexpr double repeat_tolerance = 1e-3;  // of a state, by which half cycles count as alike

/// Steepest rise of |switch current| over a window after closing. The start of the window slides over the samples.
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
    while (first_ + 1 < samples_.size() && samples_[first_ + 1].time_s <= at.time_s - rise_window_s) ++first_;
    const double span = std::max(at.time_s - samples_[first_].time_s, rise_window_s);
    steepest_ = std::max(steepest_, (samples_.back().a - samples_[first_].a) / span);
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

void record(Waveform* waveform, const Instant& at) {
  if (waveform == nullptr) return;
  waveform->time_s.push_back(at.time_s);
  waveform->terminal_v.push_back(at.terminal_v);
  waveform->current_a.push_back(at.current_a);
  waveform->switch_a.push_back(at.switch_a);
}

double square_integral(double a, double b, double dt) { return dt * (a * a + a * b + b * b) / 3.0; }

}  // namespace

DrivenChannel::DrivenChannel(const Path& path, std::span<const LampGroup> lamps) : network_(path, lamps) {}

void DrivenChannel::adopt(const DrivenChannel& other) {
  network_.adopt(other.network_);
  half_cycle_ = other.half_cycle_;
}

std::vector<double> DrivenChannel::magnitudes() const {
  std::vector<double> all;
  for (const auto& device : network_.devices()) {
    for (const double x : device->state()) all.push_back(std::abs(x));
  }
  return all;
}

SteadyFigures DrivenChannel::half_cycle(const Operation& operation, Waveform* waveform) {
  const Path& path = network_.path();
  const double half_s = 0.5 / path.frequency_hz;
  const double start_s = static_cast<double>(half_cycle_) * half_s;
  const double end_s = static_cast<double>(++half_cycle_) * half_s;
  const double conduction_s = std::clamp(operation.conduction_deg / 180.0, 0.0, 1.0) * half_s;
  const bool uncut = operation.drive == Drive::always_on || conduction_s > half_s - 1e-9;
  const bool leading = operation.drive == Drive::leading_edge;
  const double on_s = uncut || !leading ? start_s : end_s - conduction_s;
  const double off_s = uncut || leading ? end_s : start_s + conduction_s;
  const double midway_s = 0.5 * (on_s + off_s);
  const bool triac = path.releases_at_zero && operation.drive != Drive::always_on;

  SteadyFigures figures;
  double square_a = 0.0;
  double square_v = 0.0;
  double mean_a = 0.0;
  double loss_j = 0.0;
  double lamp_j = 0.0;
  Rise rise;
  bool released = false;
  const auto observe = [&](const Instant& a, const Instant& b) {
    const double dt = b.time_s - a.time_s;
    square_v += square_integral(a.terminal_v, b.terminal_v, dt);
    lamp_j += 0.5 * (a.terminal_v + b.terminal_v) * b.lamp_charge_c;
    if (network_.closed()) {
      square_a += square_integral(a.switch_a, b.switch_a, dt);
      mean_a += 0.5 * dt * (std::abs(a.switch_a) + std::abs(b.switch_a));
      loss_j += 0.5 * dt * (a.switch_a * a.switch_v + b.switch_a * b.switch_v);
      const double size_a = std::abs(b.switch_a);
      figures.peak_a = std::max(figures.peak_a, size_a);
      rise.add(b);
      if (b.time_s >= on_s && b.time_s <= off_s) figures.latch_a = std::max(figures.latch_a, std::abs(b.current_a));
      if (a.time_s < midway_s && b.time_s >= midway_s) figures.midway_a = std::abs(b.current_a);
      const bool gated = uncut ? b.time_s < end_s : b.time_s >= on_s && b.time_s < on_s + gate_pulse_s;
      if (triac && !gated && (size_a < path.holding_current_a || a.switch_a * b.switch_a < 0.0)) released = true;
    }
    record(waveform, b);
    return !released;
  };
  const auto run = [&](double until_s) {
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
    figures.cut_a = std::max(figures.cut_a, std::abs(network_.now().current_a));
    network_.set_closed(false);
  };

  if (on_s > start_s) run(on_s);
  if (!network_.closed()) {
    rise.start(network_.now());
    network_.set_closed(true);
  }
  run(off_s);
  if (!uncut && !triac) cut();
  run(end_s);

  figures.rms_a = std::sqrt(square_a / half_s);
  figures.mean_abs_a = mean_a / half_s;
  figures.rise_a_per_s = rise.steepest();
  figures.conduction_w = loss_j / half_s;
  figures.cut_energy_j = 0.5 * path.inductance_h * figures.cut_a * figures.cut_a;
  figures.terminal_rms_v = std::sqrt(square_v / half_s);
  figures.lamp_power_w = lamp_j / half_s;
  return figures;
}

// States are compared by magnitude, because every family is odd: after half a cycle an alternating state has changed
// its sign and a rectified one has not. A state that creeps geometrically is set to where it creeps to.
SteadyFigures DrivenChannel::steady(const Operation& operation, Waveform* waveform) {
  SteadyFigures figures;
  std::vector<double> x0 = magnitudes();
  std::vector<double> x1;
  double last_rms_a = -1.0;
  int since_jump = 0;  // half cycles since the states were last extrapolated
  for (int run = 1; run <= most_half_cycles; ++run) {
    figures = half_cycle(operation, nullptr);
    figures.half_cycles = run;
    const std::vector<double> x2 = magnitudes();
    double worst = std::abs(figures.rms_a - last_rms_a) / std::max(figures.rms_a, 1e-4);
    last_rms_a = figures.rms_a;
    bool creeping = false;
    if (since_jump > 0) {
      std::size_t k = 0;
      for (const auto& device : network_.devices()) {
        for (double& state : device->state()) {
          const double d1 = x1[k] - x0[k];
          const double d2 = x2[k] - x1[k];
          const double ratio = std::abs(d1) > 0.0 ? d2 / d1 : 0.0;
          const double slow = ratio > 0.0 && ratio < 0.99 ? ratio / (1.0 - ratio) : 1.0;
          const double left = std::abs(d2) * std::max(slow, 0.2) / std::max(x2[k], 1e-3);
          worst = std::max(worst, left);
          // the square keeps the extrapolation off pulses that are not yet geometric
          if (ratio > 0.4 && ratio < 0.99 && left > repeat_tolerance) {
            state = std::copysign(std::max(x2[k] + d2 * std::min(slow, 20.0), 0.0), state);
            creeping = true;
          }
          ++k;
        }
      }
    } else {
      worst = 1.0;
    }
    if (worst < repeat_tolerance) {
      figures.periodic = true;
      break;
    }
    if (creeping) {
      x0 = magnitudes();
      since_jump = 0;
      continue;
    }
    if (since_jump++ > 0) x0 = std::move(x1);
    x1 = x2;
  }
  if (waveform != nullptr) {
    half_cycle(operation, waveform);
    half_cycle(operation, waveform);
  }
  return figures;
}

TurnOnFigures turn_on(const Path& path, std::span<const LampGroup> lamps, double phase_deg, Waveform* waveform) {
  const double half_s = 0.5 / path.frequency_hz;
  Network network(path, lamps, phase_deg / 180.0 * half_s);
  TurnOnFigures figures;
  figures.phase_deg = phase_deg;
  Rise rise;
  std::vector<Instant> samples;
  rise.start(network.now());
  network.set_closed(true);
  network.run_to(network.now().time_s + half_s, [&](const Instant& a, const Instant& b) {
    const double dt = b.time_s - a.time_s;
    figures.peak_a = std::max(figures.peak_a, std::abs(b.switch_a));
    figures.i2t_a2s += square_integral(a.switch_a, b.switch_a, dt);
    figures.charge_c += 0.5 * dt * (std::abs(a.switch_a) + std::abs(b.switch_a));
    rise.add(b);
    record(waveform, b);
    samples.push_back(b);
    return true;
  });
  figures.rise_a_per_s = rise.steepest();
  for (std::size_t i = 1; i < samples.size(); ++i) {
    if (std::abs(samples[i].switch_a) >= 0.5 * figures.peak_a)
      figures.width_s += samples[i].time_s - samples[i - 1].time_s;
  }
  return figures;
}

}  // namespace lampload
