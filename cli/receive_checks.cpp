#include "cli/receive_checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cli/fitting.h"
#include "cli/receive_differences.h"
#include "cli/receive_figures.h"
#include "cli/receive_simulation.h"
#include "core/lamp/lamp.h"
#include "fit/fit.h"

namespace lampload {
namespace {

constexpr Tolerance derived = {0.01, 0.1};  // the same relation worked out again

std::vector<double> values_of(const StoredFit& fit) {
  std::vector<double> values;
  for (const StoredEstimate& one : fit.parameters) values.push_back(one.value);
  return values;
}

void check_derived(const LampRecord& lamp, const FamilyInfo& family, Differences& differences) {
  // Of several pieces the file has the mean of their figures, which is not the figure of their mean.
  const double widening = lamp.fit->samples.empty() ? 1.0 : 3.0;
  const std::vector<DerivedFigure> figures = family.derived(values_of(*lamp.fit), operating_point(lamp));
  for (std::size_t i = 0; i < lamp.fit->derived.size(); ++i) {
    const StoredEstimate& stated = lamp.fit->derived[i];
    const std::string key = fmt::format("fit.derived[{}]", i);
    const auto found =
        std::find_if(figures.begin(), figures.end(), [&](const DerivedFigure& one) { return one.name == stated.name; });
    if (found == figures.end()) {
      differences.refuse(key + ".name", "a figure", "'" + stated.name + "'",
                         fmt::format("none of {}'s", lamp.fit->family));
    }
    if (!stated.identified) continue;
    differences.compare(key + ".value", stated.name, stated.value, found->value, stated.unit,
                        {derived.told * widening, derived.refused * widening}, 1e-9);
  }
}

/// Another version of the program may fit a little otherwise: that is told. Refused is a value that the captures give
/// far outside its own interval.
void check_fitted(const LampRecord& lamp, Telling telling, Differences& differences) {
  constexpr double half_widths = 3.0;
  constexpr double share = 0.2;
  const StoredFit& stated = *lamp.fit;
  std::vector<StoredCapture> captures;
  for (const StoredCapture& one : lamp.captures) {
    if (std::find(stated.capture_ids.begin(), stated.capture_ids.end(), one.id) != stated.capture_ids.end()) {
      captures.push_back(one);
    }
  }
  const StoredFit found = fit_captures(captures, lamp.nominal, telling);
  if (found.family != stated.family || found.load_law != stated.load_law || found.accepted != stated.accepted) {
    const std::string now = found.accepted ? found.family + " " + found.load_law : "no family";
    differences.tell("fitted again, the captures give " + now + "; residual", stated.residual_rms_a,
                     found.residual_rms_a, "A");
    return;
  }
  for (std::size_t i = 0; i < std::min(stated.parameters.size(), found.parameters.size()); ++i) {
    const StoredEstimate& a = stated.parameters[i];
    const StoredEstimate& b = found.parameters[i];
    if (!a.identified || !b.identified || (b.value >= a.lower_95 && b.value <= a.upper_95)) continue;
    const double apart = std::abs(a.value - b.value);
    if (apart > half_widths * 0.5 * (a.upper_95 - a.lower_95) && apart > share * std::abs(b.value)) {
      differences.refuse(fmt::format("fit.parameters[{}].value", i), "fitted again, " + a.name,
                         fmt::format("{:.4g} {}", a.value, a.unit), fmt::format("{:.4g} {}", b.value, b.unit));
    }
    differences.tell("fitted again, " + a.name, a.value, b.value, a.unit);
  }
}

}  // namespace

OperatingPoint operating_point(const LampRecord& lamp) {
  if (const StoredCapture* open = least_cut(lamp.captures)) return operating_point(open->figures, lamp.nominal);
  OperatingPoint at;
  if (!lamp.nominal.dc_points.empty()) {
    at = {lamp.nominal.dc_points.back().voltage_v, 0.0, lamp.nominal.dc_points.back().current_a};
  }
  at.voltage_v = lamp.nominal.voltage_v.value_or(at.voltage_v);
  return at;
}

std::vector<Difference> check_against_itself(const SharedLamp& shared, const std::string& place, bool refit,
                                             Telling telling) {
  const LampRecord& lamp = shared.lamp;
  Differences differences(shared, place);
  check_measured(lamp, differences);
  if (!lamp.fit || lamp.fit->family.empty() || !lamp.fit->accepted) return differences.list();
  const FamilyInfo& family = find_family(lamp.fit->family, lamp.fit->load_law);
  check_derived(lamp, family, differences);
  check_simulated(lamp, family, values_of(*lamp.fit), differences);
  if (refit && shared.with_samples) check_fitted(lamp, telling, differences);
  return differences.list();
}

}  // namespace lampload
