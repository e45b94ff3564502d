#include "core/circuit/pulses.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/circuit/path.h"
#include "core/error.h"
#include "core/standards/cable.h"

namespace lampload {
namespace {

constexpr double edge_s = 20e-9;
constexpr int steps_on = 40;
constexpr int steps_off = 12;
constexpr int periods_together = 20;  // periods between two looks at the states
constexpr int most_looks = 400;
constexpr double repeat = 5e-4;  // of a state

void need_lamps(std::span<const LampGroup> lamps) {
  if (lamps.empty()) throw Error(ErrorCode::usage, "pulses need at least one lamp");
  for (const LampGroup& group : lamps) {
    if (group.count < 1)
      throw Error(ErrorCode::usage, fmt::format("{} lamps on a channel; expected 1 or more", group.count));
  }
}

double required(const std::optional<double>& value, const Channel& channel, const char* key) {
  if (value) return *value;
  throw Error(ErrorCode::input_refused, fmt::format("channel '{}' does not say output.{}", channel.name, key),
              Place{.key = key}, fmt::format("Add output.{} to the channel", key));
}

}  // namespace

PulsedVoltage::PulsedVoltage(const Channel& channel, std::span<const LampGroup> lamps, std::optional<double> supply_v)
    : supply_v_(supply_v ? *supply_v : required(channel.output.supply_voltage_v, channel, "supply_voltage_v")),
      period_s_(1.0 / channel.output.pwm_hz.value_or(usual_pulse_hz)),
      resistance_ohm_(channel.output.on_resistance_ohm.value_or(0.0)),
      lamps_(lamps.begin(), lamps.end()),
      lamp_a_(lamps.size(), 0.0) {
  need_lamps(lamps);
  if (channel.cable)
    resistance_ohm_ += cable_impedance(channel.cable->length_m, channel.cable->conductor_mm2).resistance_ohm;
  resistance_ohm_ = std::max(resistance_ohm_, least_resistance_ohm);
  for (const LampGroup& group : lamps_) {
    devices_.push_back(group.lamp.device());
    for (const StateSpec& state : group.lamp.family().states) slow_.push_back(state.unit != "A");
  }
}

/// The node lies where the source's current through the resistance is the lamps': their current never falls with the
/// voltage, so that a safeguarded Newton iteration finds it.
PulsedVoltage::Node PulsedVoltage::step(double source_v, double dt_s) {
  double v = source_v;
  if (source_v > 0.0) {
    double low = 0.0;
    double high = source_v;
    for (int i = 0; i < 60; ++i) {
      double current = 0.0;
      double slope = 0.0;
      for (std::size_t k = 0; k < devices_.size(); ++k) {
        const LampDevice::Response one = devices_[k]->propose(terminal_v_, v, dt_s);
        current += lamps_[k].count * one.current_a;
        slope += lamps_[k].count * one.current_slope;
      }
      const double over = v + resistance_ohm_ * current - source_v;
      (over > 0.0 ? high : low) = v;
      double next = v - over / (1.0 + resistance_ohm_ * slope);
      if (!(next >= low && next <= high)) next = 0.5 * (low + high);
      const bool done = std::abs(next - v) < 1e-9 * source_v;
      v = next;
      if (done) break;
    }
  }
  Node node{v, 0.0};
  charge_c_ = 0.0;
  for (std::size_t k = 0; k < devices_.size(); ++k) {
    const Step<double> one = devices_[k]->advance(terminal_v_, v, dt_s);
    lamp_a_[k] = one.current_a;
    node.current_a += lamps_[k].count * one.current_a;
    charge_c_ += lamps_[k].count * one.charge_c;
  }
  terminal_v_ = v;
  time_s_ += dt_s;
  return node;
}

void PulsedVoltage::record(Waveform& waveform, double source_v, const Node& node) const {
  waveform.time_s.push_back(time_s_);
  waveform.supply_v.push_back(source_v);
  waveform.terminal_v.push_back(node.terminal_v);
  waveform.current_a.push_back(node.current_a);
  waveform.switch_a.push_back(source_v > 0.0 ? node.current_a : 0.0);
  waveform.lamp_a.resize(lamps_.size());
  waveform.light.resize(lamps_.size());
  for (std::size_t k = 0; k < lamps_.size(); ++k) {
    waveform.lamp_a[k].push_back(lamp_a_[k]);
    const FamilyInfo& family = lamps_[k].lamp.family();
    if (!waveform.with_light || family.light == nullptr) continue;
    waveform.light[k].push_back(
        family.light(lamps_[k].lamp.parameters(), devices_[k]->state(), node.terminal_v, lamp_a_[k]));
  }
}

PulseFigures PulsedVoltage::period(double duty, Waveform* waveform) {
  const double on_s = std::clamp(duty, 0.0, 1.0) * period_s_;
  PulseFigures figures;
  double before_v = terminal_v_;
  double before_a = 0.0;
  for (std::size_t k = 0; k < devices_.size(); ++k) before_a += lamps_[k].count * lamp_a_[k];
  double square_a = 0.0, charge = 0.0, energy = 0.0, flux = 0.0;
  const auto go = [&](double source_v, double dt_s) {
    const Node node = step(source_v, dt_s);
    square_a += square_integral(before_a, node.current_a, dt_s);
    flux += 0.5 * (before_v + node.terminal_v) * dt_s;
    charge += charge_c_;
    energy += 0.5 * (before_v + node.terminal_v) * charge_c_;
    figures.peak_a = std::max(figures.peak_a, node.current_a);
    before_v = node.terminal_v;
    before_a = node.current_a;
    if (waveform != nullptr) record(*waveform, source_v, node);
  };
  const auto run = [&](double source_v, double length_s, int steps) {
    if (length_s <= edge_s) return;
    go(source_v, edge_s);
    for (int i = 0; i < steps; ++i) go(source_v, (length_s - edge_s) / steps);
  };
  run(supply_v_, on_s, steps_on);
  run(0.0, period_s_ - on_s, steps_off);
  figures.mean_a = charge / period_s_;
  figures.rms_a = std::sqrt(square_a / period_s_);
  figures.mean_v = flux / period_s_;
  figures.lamp_power_w = energy / period_s_;
  return figures;
}

std::vector<double> PulsedVoltage::states() const {
  std::vector<double> all;
  for (const auto& device : devices_) {
    const std::span<double> state = device->state();
    all.insert(all.end(), state.begin(), state.end());
  }
  return all;
}

// A filament warms over hundreds of periods. What creeps geometrically is set to where it creeps to.
PulseFigures PulsedVoltage::steady(double duty, Waveform* waveform) {
  PulseFigures figures;
  std::vector<std::vector<double>> seen{states()};
  for (int look = 0; look < most_looks && !figures.periodic; ++look) {
    for (int i = 0; i < periods_together; ++i) figures = period(duty, nullptr);
    seen.push_back(states());
    const std::size_t n = seen.size() - 1;
    double most_left = 0.0;
    bool extrapolated = false;
    std::size_t at = 0;
    for (const auto& device : devices_) {
      for (double& state : device->state()) {
        const std::size_t k = at++;
        if (!slow_[k]) continue;
        const double change = seen[n][k] - seen[n - 1][k];
        const double before = n >= 2 ? seen[n - 1][k] - seen[n - 2][k] : 0.0;
        const double ratio = before != 0.0 ? change / before : 0.0;
        const double ahead = ratio > 0.0 && ratio < 0.995 ? change * ratio / (1.0 - ratio) : change;
        const double left = std::max(std::abs(change), std::abs(ahead)) / std::max(std::abs(seen[n][k]), 1e-3);
        most_left = std::max(most_left, left);
        if (n >= 3 && ratio > 0.3 && ratio < 0.995 && std::abs(ahead) < 0.3 * std::abs(seen[n][k]) && left > repeat) {
          state = seen[n][k] + ahead;
          extrapolated = true;
        }
      }
    }
    figures.periodic = !extrapolated && most_left < repeat;
    if (extrapolated) seen.assign(1, states());
  }
  const bool periodic = figures.periodic;
  if (waveform != nullptr) figures = period(duty, waveform);
  figures.periodic = periodic;
  return figures;
}

void PulsedVoltage::run(double duty, int periods, Waveform& waveform) {
  for (int i = 0; i < periods; ++i) period(duty, &waveform);
}

PulseFigures pulsed_current(const Channel& channel, std::span<const LampGroup> lamps, double duty, Waveform* waveform) {
  need_lamps(lamps);
  const double current_a = required(channel.output.current_a, channel, "current_a");
  const double period_s = 1.0 / channel.output.pwm_hz.value_or(usual_pulse_hz);
  const double share = std::clamp(duty, 0.0, 1.0);
  double on_v = 0.0;
  for (const LampGroup& group : lamps)
    on_v += group.count * dc_voltage_v(group.lamp.family(), group.lamp.parameters(), current_a);
  PulseFigures figures;
  figures.mean_a = share * current_a;
  figures.rms_a = std::sqrt(share) * current_a;
  figures.peak_a = share > 0.0 ? current_a : 0.0;
  figures.mean_v = share * on_v;
  figures.lamp_power_w = share * on_v * current_a;
  figures.periodic = true;
  if (waveform == nullptr) return figures;
  const double from_s = waveform->time_s.empty() ? 0.0 : waveform->time_s.back();
  const auto record = [&](double time_s, bool on) {
    waveform->time_s.push_back(from_s + time_s);
    waveform->supply_v.push_back(on ? on_v : 0.0);
    waveform->terminal_v.push_back(on ? on_v : 0.0);
    waveform->current_a.push_back(on ? current_a : 0.0);
    waveform->switch_a.push_back(on ? current_a : 0.0);
    waveform->lamp_a.resize(lamps.size());
    waveform->light.resize(lamps.size());
    for (std::size_t k = 0; k < lamps.size(); ++k) {
      waveform->lamp_a[k].push_back(on ? current_a : 0.0);
      const Lamp& lamp = lamps[k].lamp;
      if (!waveform->with_light || lamp.family().light == nullptr || !lamp.family().states.empty()) continue;
      const double volt = on ? dc_voltage_v(lamp.family(), lamp.parameters(), current_a) : 0.0;
      waveform->light[k].push_back(lamp.family().light(lamp.parameters(), {}, volt, on ? current_a : 0.0));
    }
  };
  const double on_s = share * period_s;
  if (on_s > edge_s) {
    record(0.0, true);
    record(on_s, true);
  }
  if (period_s - on_s > edge_s) {
    record(on_s > edge_s ? on_s + edge_s : 0.0, false);
    record(period_s, false);
  }
  return figures;
}

}  // namespace lampload
