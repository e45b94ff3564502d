#include "db/lamp_file_checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "core/error.h"
#include "core/lamp/lamp.h"
#include "core/lower_factor.h"

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

void check_fit(const StoredFit& fit, const Object& at) {
  for (std::size_t i = 0; i < fit.derived.size(); ++i) {
    check_estimate(fit.derived[i], at, fmt::format("derived[{}]", i));
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

/// What figures of one capture say of each other.
void check_figures(const Figures& figures, const Object& at) {
  constexpr double loose = 0.02;
  if (std::abs(figures.active_power_w) > figures.apparent_power_va * (1.0 + loose) + 1e-6) {
    at.refuse("active_power_w", fmt::format("{} W are more than the apparent power, {} VA", figures.active_power_w,
                                            figures.apparent_power_va));
  }
  const double product = figures.voltage_rms_v * figures.current_rms_a;
  if (std::abs(figures.apparent_power_va - product) > 0.05 * product + 1e-3) {
    at.refuse("apparent_power_va", fmt::format("{} VA are not {} V times {} A", figures.apparent_power_va,
                                               figures.voltage_rms_v, figures.current_rms_a));
  }
  if (figures.current_peak_a < figures.current_rms_a * (1.0 - loose) - 1e-9) {
    at.refuse("current_peak_a", "the peak is below the rms value");
  }
  if (figures.steady_last > figures.samples || figures.steady_first > figures.steady_last) {
    at.refuse("steady_last", "is not within the capture");
  }
}

}  // namespace

void check_physics(const LampRecord& lamp, const Object& object) {
  const std::vector<Object> captures = object.objects("captures");
  for (std::size_t i = 0; i < captures.size(); ++i) {
    check_figures(lamp.captures[i].figures, captures[i].object("figures"));
  }
  if (lamp.captures.empty() && !lamp.fit && lamp.nominal.dc_points.empty()) {
    object.refuse("captures", "nothing was measured of this lamp: neither captures nor a fit",
                  "Nothing can be used of it");
  }
  if (!lamp.fit) return;
  const Object fit = object.object("fit");
  check_fit(*lamp.fit, fit);
  const std::vector<Object> samples = fit.objects("samples");
  for (std::size_t i = 0; i < samples.size(); ++i) check_fit(lamp.fit->samples[i], samples[i]);
}

}  // namespace lampload
