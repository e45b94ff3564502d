#include "db/lamp_file_checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "core/error.h"
#include "core/lamp/lamp.h"
#include "core/lower_factor.h"
#include "db/figures_checks.h"

namespace lampload {
namespace {

using json::Object;

void check_covariance(const StoredFit& fit, std::size_t side, const Object& at) {
  const std::vector<double>& matrix = fit.covariance;
  if (matrix.empty()) return;
  if (matrix.size() != side * side) {
    at.refuse("covariance", fmt::format("{} rows and columns were expected, one for each parameter", side));
  }
  for (std::size_t i = 0; i < side; ++i) {
    if (matrix[i * side + i] < 0.0) at.refuse(fmt::format("covariance[{0}][{0}]", i), "a variance is below 0");
    for (std::size_t j = 0; j < i; ++j) {
      const double a = matrix[i * side + j];
      const double b = matrix[j * side + i];
      const double size = std::sqrt(matrix[i * side + i] * matrix[j * side + j]);
      if (std::abs(a - b) > 1e-9 * (std::abs(a) + std::abs(b)) + 1e-12 * size) {
        at.refuse(fmt::format("covariance[{}][{}]", i, j), fmt::format("{} is not {} on the other side", a, b));
      }
      if (std::abs(a) > size * (1.0 + 1e-6)) {
        at.refuse(fmt::format("covariance[{}][{}]", i, j), "is more than the two variances allow");
      }
    }
  }
  if (!lower_factor(matrix, side, 1e-6).positive)
    at.refuse("covariance", "is not positive semidefinite: no quantities vary so");
}

void check_estimate(const StoredEstimate& one, const Object& at, const std::string& key) {
  if (!(one.lower_95 <= one.upper_95)) at.refuse(key + ".lower_95", "the interval ends before it begins");
  const double slack = 1e-9 * std::abs(one.value);
  if (one.identified && (one.value < one.lower_95 - slack || one.value > one.upper_95 + slack)) {
    at.refuse(key + ".value",
              fmt::format("{} is outside its own 95 % interval {} to {}", one.value, one.lower_95, one.upper_95));
  }
}

/// Names, order and bounds by the family's table.
void check_parameters(const StoredFit& fit, const FamilyInfo& family, const Object& at) {
  if (fit.parameters.size() != family.parameters.size()) {
    at.refuse("parameters", fmt::format("{} has {} parameters, here are {}", family.name, family.parameters.size(),
                                        fit.parameters.size()));
  }
  std::vector<double> values;
  for (std::size_t i = 0; i < fit.parameters.size(); ++i) {
    const StoredEstimate& one = fit.parameters[i];
    const ParameterSpec& spec = family.parameters[i];
    const std::string key = fmt::format("parameters[{}]", i);
    if (one.name != spec.name) at.refuse(key + ".name", fmt::format("'{}' was expected in this place", spec.name));
    if (one.unit != spec.unit) {
      at.refuse(key + ".unit", fmt::format("'{}' was expected, the unit of {}", spec.unit, spec.name));
    }
    const bool absent = spec.optional && one.value == spec.absent;
    if (!absent && !(one.value >= spec.lower && one.value <= spec.upper)) {
      at.refuse(key + ".value",
                fmt::format("{} of {} is outside {} to {} {}", one.value, one.name, spec.lower, spec.upper, spec.unit),
                "Such a lamp cannot be; check the unit");
    }
    check_estimate(one, at, key);
    values.push_back(one.value);
    if (fit.covariance.size() != family.parameters.size() * family.parameters.size() || !one.identified) continue;
    // An uncertainty that is stated smaller than the covariance has it would let counts grow.
    const double sd = std::sqrt(std::max(0.0, fit.covariance[i * fit.parameters.size() + i]));
    const double stated = one.standard_uncertainty / (spec.logarithmic ? one.value : spec.scale);
    if (sd > 2.0 * stated + 1e-9) {
      at.refuse(key + ".standard_uncertainty",
                fmt::format("is less than half of what the covariance says ({:.3g} of {:.3g})", stated, sd));
    }
  }
  try {
    (void)Lamp(family, values);
  } catch (const Error& fault) {
    at.refuse("parameters", fault.message());
  }
}

/// Unit that the end of a derived figure's name says.
std::string_view unit_by_name(std::string_view name) {
  using Ending = std::pair<std::string_view, std::string_view>;
  constexpr std::array endings = {Ending{"conductance_s", "S"},
                                  Ending{"_s", "s"},
                                  Ending{"_w", "W"},
                                  Ending{"_ohm", "Ohm"},
                                  Ending{"_k", "K"},
                                  Ending{"_v", "V"},
                                  Ending{"_a", "A"},
                                  Ending{"_h", "H"},
                                  Ending{"_f", "F"},
                                  Ending{"_hz", "Hz"},
                                  Ending{"_j", "J"},
                                  Ending{"_percent", "%"}};
  const auto found =
      std::find_if(endings.begin(), endings.end(), [&](const Ending& one) { return name.ends_with(one.first); });
  return found == endings.end() ? "" : found->second;
}

template <class Named>
void check_names(const std::vector<Named>& list, const std::string& key, const Object& at) {
  std::set<std::string_view> names;
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (!names.insert(list[i].name).second) {
      at.refuse(fmt::format("{}[{}].name", key, i), fmt::format("'{}' stands in the list twice", list[i].name));
    }
  }
}

void check_fit(const StoredFit& fit, const Object& at) {
  for (std::size_t i = 0; i < fit.derived.size(); ++i) {
    const StoredEstimate& one = fit.derived[i];
    const std::string key = fmt::format("derived[{}]", i);
    if (one.unit != unit_by_name(one.name)) {
      at.refuse(key + ".unit", fmt::format("'{}' was expected, by the name {}", unit_by_name(one.name), one.name));
    }
    check_estimate(one, at, key);
  }
  check_names(fit.derived, "derived", at);
  std::set<std::int64_t> places;
  for (const std::int64_t place : fit.capture_ids) {
    if (!places.insert(place).second) at.refuse("captures", fmt::format("capture {} stands in the list twice", place));
  }
  if (fit.family.empty()) {
    if (fit.accepted) at.refuse("family", "is empty, but the fit says that a family describes the lamp");
    if (!fit.parameters.empty()) at.refuse("parameters", "are there, but no family is named");
    if (!fit.covariance.empty()) at.refuse("covariance", "is there, but no family is named");
    return;
  }
  const FamilyInfo* family = nullptr;
  try {
    family = &find_family(fit.family, fit.load_law);
  } catch (const Error& fault) {
    at.refuse("family", fault.message(), fault.remedy());
  }
  check_covariance(fit, family->parameters.size(), at);
  check_parameters(fit, *family, at);
}

/// What is left over of an accepted fit is less than what flowed.
void check_residual(const LampRecord& lamp, const Object& at) {
  const StoredFit& fit = *lamp.fit;
  if (!fit.accepted || fit.capture_ids.empty()) return;
  double most_a = 0.0;
  for (const std::int64_t place : fit.capture_ids) {
    const Figures& figures = lamp.captures[static_cast<std::size_t>(place - 1)].figures;
    most_a = std::max({most_a, figures.current_rms_a, figures.inrush ? 0.3 * figures.inrush->peak_a : 0.0});
  }
  if (fit.residual_rms_a > most_a) {
    at.refuse("residual_rms_a",
              fmt::format("{} A are left over, more than flowed ({:.4g} A), but the fit says that its "
                          "family describes the lamp",
                          fit.residual_rms_a, most_a));
  }
}

}  // namespace

void check_physics(const LampRecord& lamp, const Object& object) {
  const std::vector<Object> captures = object.objects("captures");
  for (std::size_t i = 0; i < captures.size(); ++i) {
    check_figures(lamp.captures[i], lamp.nominal, captures[i].object("figures"));
  }
  if (lamp.captures.empty() && !lamp.fit && lamp.nominal.dc_points.empty()) {
    object.refuse("captures", "nothing was measured of this lamp: neither captures nor a fit",
                  "Nothing can be used of it");
  }
  if (!lamp.fit) return;
  const Object fit = object.object("fit");
  check_fit(*lamp.fit, fit);
  check_residual(lamp, fit);
  check_names(lamp.fit->parameter_spreads, "spread.parameters", fit);
  check_names(lamp.fit->derived_spreads, "spread.derived", fit);
  check_names(lamp.fit->load_spreads, "spread.load", fit);
  const std::vector<Object> samples = fit.objects("samples");
  for (std::size_t i = 0; i < samples.size(); ++i) check_fit(lamp.fit->samples[i], samples[i]);
}

}  // namespace lampload
