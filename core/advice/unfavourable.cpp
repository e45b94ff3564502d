#include "core/advice/unfavourable.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "core/advice/load_spread.h"
#include "core/waveform/capture_kinds.h"

namespace lampload {
namespace {

constexpr double furthest_factor = 10.0;

bool held(const ParameterSpec& spec, double value) { return spec.optional && value == spec.absent; }

bool is_identified(const LampEvidence& evidence, std::size_t j) {
  return evidence.identified.empty() || evidence.identified[j];
}

}  // namespace

std::vector<Lamp> unfavourable_lamps(const LampEvidence& evidence) {
  const Lamp& central = *evidence.lamp;
  const auto specs = central.family().parameters;
  const std::vector<double>& values = central.parameters();
  const std::size_t n = values.size();
  std::vector<Lamp> lamps{central};
  for (std::size_t j = 0; j < n; ++j) {
    if (held(specs[j], values[j])) continue;
    if (!is_identified(evidence, j)) {
      if (evidence.lower_95.size() != n || evidence.upper_95.size() != n) continue;
      for (double end : {evidence.lower_95[j], evidence.upper_95[j]}) {
        if (values[j] > 0.0) end = std::clamp(end, values[j] / furthest_factor, values[j] * furthest_factor);
        std::vector<double> moved = values;
        moved[j] = std::clamp(end, specs[j].lower, specs[j].upper);
        if (moved[j] != values[j]) lamps.emplace_back(central.family(), std::move(moved));
      }
      continue;
    }
    if (evidence.covariance.size() != n * n) continue;
    const double sigma = std::sqrt(std::max(evidence.covariance[j * n + j], 0.0));
    if (!(sigma > 0.0)) continue;
    for (const double side : {-coverage, coverage}) {
      std::vector<double> moved = values;
      for (std::size_t i = 0; i < n; ++i) {
        if (held(specs[i], values[i]) || !is_identified(evidence, i)) continue;
        const double step = side * evidence.covariance[i * n + j] / sigma;
        if (step == 0.0) continue;
        const double value = from_coordinate(specs[i], to_coordinate(specs[i], values[i]) + step);
        moved[i] = std::clamp(value, specs[i].lower, specs[i].upper);
      }
      lamps.emplace_back(central.family(), std::move(moved));
    }
  }
  return lamps;
}

std::vector<std::string> unidentified_parameters(const LampEvidence& evidence) {
  std::vector<std::string> names;
  const std::set<std::string_view> taken = capture_kinds(evidence.measured);
  const auto specs = evidence.lamp->family().parameters;
  for (std::size_t j = 0; j < specs.size(); ++j) {
    if (is_identified(evidence, j) || held(specs[j], evidence.lamp->parameters()[j])) continue;
    names.push_back(specs[j].identified_by.empty() || taken.contains(specs[j].identified_by)
                        ? std::string(specs[j].name)
                        : fmt::format("{} (a {} capture would show it)", specs[j].name, specs[j].identified_by));
  }
  return names;
}

}  // namespace lampload
