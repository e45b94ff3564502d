#include "fit/replay.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>
#include <numbers>

#include "core/lamp/slow_state.h"
#include "fit/drive.h"
#include "fit/one_pole.h"
#include "fit/shown_current.h"

namespace lampload {
namespace {

/// As run_in.h does it for one family.
void run_in(const Lamp& lamp, LampDevice& device, const DrivenCapture& drive) {
  constexpr int most_passes = 150;
  constexpr double repeated = 1e-5;  // of a state's size
  const FamilyInfo& family = lamp.family();
  std::vector<SlowState> slow(family.states.size());
  const double cycle_s = drive.repeat_hz > 0.0 ? 1.0 / drive.repeat_hz : std::numeric_limits<double>::infinity();
  for (int pass = 0; pass < most_passes; ++pass) {
    const std::span<double> state = device.state();
    const std::vector<double> before(state.begin(), state.end());
    double time = 0.0;
    for (std::size_t k = 0; k < drive.blocks() && time < cycle_s; ++k) {
      device.advance(drive.line_v[k], drive.line_v[k + 1], drive.length_s(k));
      time += drive.length_s(k);
    }
    double change = 0.0;
    for (std::size_t s = 0; s < before.size(); ++s) {
      const StateSpec& spec = family.states[s];
      // Left-out parameters at the end of the table belong to parts that the lamp does without.
      const std::size_t at = index_of(family.parameters, spec.time_constant);
      const double slow_s = spec.time_constant.empty() || at >= lamp.parameters().size() ? 0.0 : lamp.parameters()[at];
      double off = std::abs(state[s] - before[s]);
      if (slow_s > 0.0) {
        state[s] = slow[s].next(before[s], state[s], time, slow_s);
        off = slow[s].off();
      }
      change = std::max(change, off / spec.unit_size());
    }
    if (change < repeated) break;
  }
}

Step<double> advanced(LampDevice& device, const DrivenCapture& drive, std::size_t k) {
  const double before = drive.line_v[k];
  const double after = drive.line_v[k + 1];
  const double length = drive.length_s(k);
  if (drive.step_s.empty() || drive.step_s[k] < 0.0) return device.advance(before, after, length);
  const Step<double> first = device.advance(before, before, drive.step_s[k]);
  Step<double> second = device.advance(after, after, length - drive.step_s[k]);
  second.charge_c += first.charge_c;
  return second;
}

}  // namespace

std::vector<double> replayed_current(const Lamp& lamp, const Capture& capture, const Figures& figures,
                                     const ReplayedChannel& channel) {
  const DrivenCapture drive =
      make_drive(capture, figures, {.coarse_s = capture.sample_interval_s, .fine_s = capture.sample_interval_s});
  const std::unique_ptr<LampDevice> device = lamp.device();
  if (!drive.from_rest) run_in(lamp, *device, drive);
  std::vector<double> shown_a(capture.samples(), channel.current_offset_a);
  const auto take = [&](const ShownBlock<double>& block) {
    const std::size_t sample = drive.first_sample + drive.bounds[block.block + 1];
    shown_a[sample] = channel.current_offset_a + block.end_a;
    if (block.block == 0 && !drive.from_rest) shown_a[sample - 1] = shown_a[sample];  // the first has no block
  };
  constexpr double unlimited_hz = 1e9;
  OnePole<double> pole(1.0 / (2.0 * std::numbers::pi * channel.bandwidth_hz.value_or(unlimited_hz)));
  ShownCurrent<double> shown(drive.bounds, channel.current_delay_s / drive.dt_s);
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    const Step<double> step = advanced(*device, drive, k);
    if (k == 0 && !drive.from_rest) pole.start(step.current_a);
    const double mean_a = pole.pass(step.charge_c / drive.length_s(k), step.current_a, drive.length_s(k));
    if (k == 0) shown.begin(drive.from_rest ? 0.0 : pole.shown_a());
    shown.add(mean_a, pole.shown_a(), take);
  }
  shown.finish(take);
  return shown_a;
}

}  // namespace lampload
