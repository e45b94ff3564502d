// What one recommendation costs: one lamp, one channel, all modes and constraints, the costs of the margins included.
// Beside it in the same run the steady state of one lamp at 90 degrees, which everything is made of: the ratio says how
// many of them a recommendation takes, whatever the machine.
//
//   build/release/tests/bench/recommendation_speed sample_captures/boathouse_*.json

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <string>
#include <vector>

#include "core/advice/recommendation.h"
#include "core/circuit/drive.h"
#include "db/channel_file.h"

namespace lampload {
namespace {

constexpr double goal_s = 0.2;
constexpr int runs = 7;

struct Cost {
  double processor_s = 0.0;
  double wall_s = 0.0;
};

/// Medians of several runs.
template <class Work>
Cost cost_of(const Work& work, int repeats) {
  std::vector<double> processor, wall;
  for (int run = 0; run < runs; ++run) {
    const std::clock_t began = std::clock();
    const auto at = std::chrono::steady_clock::now();
    for (int n = 0; n < repeats; ++n) work();
    wall.push_back(std::chrono::duration<double>(std::chrono::steady_clock::now() - at).count() / repeats);
    processor.push_back(static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC / repeats);
  }
  const auto middle = [](std::vector<double>& all) {
    std::nth_element(all.begin(), all.begin() + runs / 2, all.end());
    return all[runs / 2];
  };
  return {middle(processor), middle(wall)};
}

/// An invented lamp, every parameter known within some per cent, as fits leave them.
LampEvidence lamp(const std::string& name, const std::string& family, const std::string& load_law,
                  std::vector<double> values) {
  LampEvidence evidence;
  evidence.name = name;
  const FamilyInfo& info = find_family(family, load_law);
  values.resize(info.parameters.size(), 0.0);
  const std::size_t n = values.size();
  evidence.covariance.assign(n * n, 0.0);
  for (std::size_t j = 0; j < n; ++j) {
    const bool held = info.parameters[j].optional && values[j] == info.parameters[j].absent;
    if (!held) evidence.covariance[j * n + j] = 0.03 * 0.03;
  }
  evidence.identified.assign(n, true);
  evidence.lower_95 = evidence.upper_95 = values;
  evidence.label_dimmable = true;
  evidence.lamp = Lamp(info, std::move(values));
  return evidence;
}

}  // namespace
}  // namespace lampload

int main(int argc, char** argv) {
  using namespace lampload;
  const std::vector<LampEvidence> lamps = {
      lamp("LED candle", "rectifier_capacitor", "led_string", {18.0, 0.0, 33e-9, 1.6, 4.7e-6, 1.0, 220.0, 900.0}),
      lamp("LED with a converter", "rectifier_capacitor", "constant_power", {22.0, 0.0, 22e-9, 1.6, 5.6e-6, 1.0, 8.0}),
      lamp("filament pendant", "filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 1e-4, 0.0})};
  double worst_s = 0.0;
  for (int i = 1; i < argc; ++i) {
    const Channel channel = read_channel_file(argv[i]);
    if (channel.output.kind != OutputKind::phase_cut && channel.output.kind != OutputKind::relay) continue;
    for (const LampEvidence& one : lamps) {
      const Path path = path_of(channel, channel.supply.voltage_v);
      const LampGroup group{*one.lamp, 1};
      const Cost unit = cost_of(
          [&] {
            DrivenChannel(path, std::span(&group, 1)).steady({Drive::leading_edge, 90.0});
          },
          20);
      Recommendation answer;
      const Cost whole = cost_of([&] { answer = recommend(one, channel); }, 1);
      worst_s = std::max(worst_s, whole.processor_s);
      std::printf("%s, %s: %.3f s processor, %.3f s wall, %.0f steady states; %d lamps by %s (%d nominal)\n",
                  channel.name.c_str(), one.name.c_str(), whole.processor_s, whole.wall_s,
                  whole.processor_s / unit.processor_s, answer.max_lamps, answer.limited_by.c_str(),
                  answer.max_lamps_nominal);
    }
  }
  std::printf("longest: %.3f s processor (goal %.1f)\n", worst_s, goal_s);
  return worst_s < goal_s ? 0 : 1;
}
