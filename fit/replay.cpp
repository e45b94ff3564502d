#include "fit/replay.h"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

#include "fit/drive.h"
#include "fit/one_pole.h"
#include "fit/run_in.h"
#include "fit/shown_current.h"

namespace lampload {
namespace {

/// Of each state; 0 for those that are not slow. Parameters left out at the end of the table belong to parts that the
/// lamp does without.
std::vector<double> slow_times_s(const Lamp& lamp) {
  const FamilyInfo& family = lamp.family();
  std::vector<double> times;
  for (const StateSpec& spec : family.states) {
    const bool left_out =
        !spec.time_constant.empty() && index_of(family.parameters, spec.time_constant) >= lamp.parameters().size();
    times.push_back(left_out ? 0.0 : slow_time_s(spec, family.parameters, lamp.parameters()));
  }
  return times;
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
  if (!drive.from_rest) {
    run_in([&](double v0, double v1, double dt) { device->advance(v0, v1, dt); }, lamp.family().states,
           slow_times_s(lamp), drive, device->state());
  }
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
