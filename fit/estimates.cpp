#include "fit/estimates.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

namespace lampload {
namespace {

double coordinate_sd(const std::vector<double>& covariance, std::size_t n, std::size_t j) {
  return std::sqrt(std::max(0.0, covariance[j * n + j]));
}

}  // namespace

std::vector<Estimate> parameter_estimates(const FamilyInfo& family, const std::vector<double>& full,
                                          const std::vector<bool>& free, const std::vector<bool>& bound,
                                          const std::vector<double>& covariance, const std::vector<double>& loose,
                                          const std::vector<double>& limits, const std::vector<IntervalEnds>& ends,
                                          const std::vector<double>& prior_sd) {
  const std::size_t n = family.parameters.size();
  std::vector<Estimate> estimates;
  for (std::size_t j = 0; j < n; ++j) {
    const ParameterSpec& spec = family.parameters[j];
    Estimate estimate;
    estimate.name = spec.name;
    estimate.unit = spec.unit;
    estimate.value = free[j] ? spec.within(from_coordinate(spec, full[j])) : spec.absent;
    const double sd = coordinate_sd(bound[j] ? loose : covariance, n, j);
    double below = full[j] - coverage_95 * sd;
    double above = full[j] + coverage_95 * sd;
    if (free[j] && !bound[j] && !ends.empty()) {
      below = std::min(below, ends[j].lower);
      above = std::max(above, ends[j].upper);
    }
    const auto end = [&](double sign) { return spec.within(from_coordinate(spec, sign < 0.0 ? below : above)); };
    if (!free[j] && !spec.part.empty()) {
      estimate.lower_95 = spec.absent;
      estimate.upper_95 = spec.upper;
      estimate.identified = false;
      estimate.remark = "absent: the captures do not ask for such a part";
    } else if (!free[j]) {
      // What is held all the same may be there: up to where the captures object, or within what is known beforehand.
      const double known = coverage_95 * prior_sd[j] * spec.scale;
      estimate.lower_95 = std::clamp(spec.absent - known, std::min(spec.lower, spec.absent), spec.upper);
      estimate.upper_95 = std::clamp(std::max(limits[j], spec.absent + known), spec.absent, spec.upper);
      estimate.identified = false;
      estimate.remark = fmt::format("held at {:g}: the captures do not ask for it", spec.absent);
    } else if (bound[j]) {
      estimate.lower_95 = end(-1.0);
      estimate.upper_95 = end(+1.0);
      estimate.identified = false;
      estimate.remark = fmt::format("at bound {:g}: held there, the rest computed with it", estimate.value);
    } else if (prior_sd[j] > 0.0 && sd > 0.8 * prior_sd[j]) {
      estimate.lower_95 = end(-1.0);
      estimate.upper_95 = end(+1.0);
      estimate.identified = false;
      estimate.remark = "what is usual: the captures add nothing";
    } else if (above - below > 2.0 * coverage_95 * identified_sd) {
      estimate.lower_95 = end(-1.0);
      estimate.upper_95 = end(+1.0);
      estimate.identified = false;
      estimate.remark = "not identified by these captures";
    } else {
      estimate.lower_95 = end(-1.0);
      estimate.upper_95 = end(+1.0);
      estimate.standard_uncertainty = sd * (spec.logarithmic ? estimate.value : spec.scale);
    }
    estimates.push_back(estimate);
  }
  return estimates;
}

std::vector<Estimate> derived_estimates(const FamilyInfo& family, const std::vector<double>& full,
                                        const std::vector<bool>& free, const std::vector<double>& covariance,
                                        const OperatingPoint& at) {
  const std::size_t n = family.parameters.size();
  const auto derived_at = [&](const std::vector<double>& coordinates) {
    std::vector<double> values;
    for (std::size_t j = 0; j < n; ++j) {
      const ParameterSpec& spec = family.parameters[j];
      values.push_back(free[j] ? spec.within(from_coordinate(spec, coordinates[j])) : spec.absent);
    }
    return family.derived(values, at);
  };
  const std::vector<double> centre(full.begin(), full.begin() + static_cast<std::ptrdiff_t>(n));
  const std::vector<DerivedFigure> figures = derived_at(centre);
  std::vector<std::vector<double>> slopes(figures.size(), std::vector<double>(n, 0.0));
  for (std::size_t j = 0; j < n; ++j) {
    if (covariance[j * n + j] <= 0.0) continue;
    const double step = 0.02 * std::min(1.0, coordinate_sd(covariance, n, j)) + 1e-5;
    std::vector<double> up = centre;
    std::vector<double> down = centre;
    up[j] += step;
    down[j] -= step;
    const auto above = derived_at(up);
    const auto below = derived_at(down);
    for (std::size_t f = 0; f < figures.size(); ++f) slopes[f][j] = (above[f].value - below[f].value) / (2.0 * step);
  }
  std::vector<Estimate> estimates;
  for (std::size_t f = 0; f < figures.size(); ++f) {
    double variance = 0.0;
    for (std::size_t a = 0; a < n; ++a) {
      for (std::size_t b = 0; b < n; ++b) variance += slopes[f][a] * covariance[a * n + b] * slopes[f][b];
    }
    const double sd = std::hypot(std::sqrt(std::max(0.0, variance)), figures[f].relation_sd * figures[f].value);
    Estimate estimate;
    estimate.name = figures[f].name;
    estimate.unit = figures[f].unit;
    estimate.value = figures[f].value;
    const double relative = estimate.value > 0.0 ? sd / estimate.value : 0.0;
    estimate.lower_95 =
        estimate.value > 0.0 ? estimate.value * std::exp(-coverage_95 * relative) : estimate.value - coverage_95 * sd;
    estimate.upper_95 =
        estimate.value > 0.0 ? estimate.value * std::exp(coverage_95 * relative) : estimate.value + coverage_95 * sd;
    estimate.identified = relative <= identified_sd;
    if (estimate.identified) {
      estimate.standard_uncertainty = sd;
    } else {
      estimate.remark = "not identified by these captures";
    }
    estimates.push_back(estimate);
  }
  return estimates;
}

}  // namespace lampload
