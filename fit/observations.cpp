#include "fit/observations.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace lampload {
namespace {

double rated_power_w(const FamilyInfo& family, std::span<const double> values, const OperatingPoint& at) {
  for (const DerivedFigure& figure : family.derived(values, at)) {
    if (figure.name == "rated_power_w") return figure.value;
  }
  return 0.0;
}

bool derives_rated_power(const FamilyInfo& family, const OperatingPoint& at) {
  std::vector<double> values;
  for (const ParameterSpec& spec : family.parameters) {
    const double middle = spec.logarithmic ? std::sqrt(spec.lower * spec.upper) : spec.scale;
    values.push_back(spec.optional ? spec.absent : middle);
  }
  const auto figures = family.derived(values, at);
  return std::any_of(figures.begin(), figures.end(), [](const auto& one) { return one.name == "rated_power_w"; });
}

std::vector<double> values_at(const FamilyInfo& family, const std::vector<double>& full,
                              const std::vector<bool>& free) {
  std::vector<double> values;
  for (std::size_t j = 0; j < family.parameters.size(); ++j) {
    const ParameterSpec& spec = family.parameters[j];
    values.push_back(free[j] ? spec.within(from_coordinate(spec, full[j])) : spec.absent);
  }
  return values;
}

/// Slopes of a figure by the lamp's coordinates; 0 for what is held. Central differences: such figures come out of
/// searches for a balance.
Eigen::VectorXd slopes(const FigureObservation& seen, const FamilyInfo& family, const LampKnowledge& at) {
  const std::size_t n = family.parameters.size();
  Eigen::VectorXd slope = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(n));
  for (std::size_t j = 0; j < n; ++j) {
    if (at.covariance[j * n + j] <= 0.0) continue;
    const double step = 0.02 * std::min(1.0, std::sqrt(at.covariance[j * n + j])) + 1e-5;
    std::vector<double> up = at.full;
    std::vector<double> down = at.full;
    up[j] += step;
    down[j] -= step;
    const double rise = seen.figure(values_at(family, up, at.free)) - seen.figure(values_at(family, down, at.free));
    slope[static_cast<Eigen::Index>(j)] = rise / (2.0 * step);
  }
  return slope;
}

Eigen::MatrixXd matrix_of(const LampKnowledge& known) {
  const auto n = static_cast<Eigen::Index>(known.free.size());
  return Eigen::Map<const Eigen::MatrixXd>(known.covariance.data(), n, n);
}

struct Combined {
  LampKnowledge both;
  double chi_square = 0.0;
};

Combined combined(const std::vector<OutsideKnowledge>& knowledge, const FamilyInfo& family,
                  const LampKnowledge& captures);

}  // namespace

std::vector<OutsideKnowledge> outside_knowledge(const FamilyInfo& family, const Nominal& nominal, const Figures& open,
                                                const OperatingPoint& at) {
  std::vector<OutsideKnowledge> known;
  const bool voltage_known = nominal.voltage_v || open.cut.edge == Edge::none;
  if (nominal.rated_power_w && voltage_known && derives_rated_power(family, at)) {
    FigureObservation label;
    label.figure = [&family, at](std::span<const double> values) {
      return std::log(std::max(1e-9, rated_power_w(family, values, at)));
    };
    label.observed = std::log(*nominal.rated_power_w);
    label.standard_uncertainty = label_uncertainty;
    known.push_back({"rated_power", {std::move(label)}});
  }
  if (!nominal.dc_points.empty() && family.dc_current_a != nullptr) {
    OutsideKnowledge table{"dc_table", {}};
    double largest = 0.0;
    for (const DcPoint& point : nominal.dc_points) largest = std::max(largest, std::abs(point.current_a));
    for (const DcPoint& point : nominal.dc_points) {
      FigureObservation seen;
      seen.figure = [&family, volt = point.voltage_v](std::span<const double> values) {
        return family.dc_current_a(values, volt);
      };
      seen.observed = point.current_a;
      seen.standard_uncertainty = point.uncertainty_a.value_or(
          std::max(1e-9, std::hypot(dc_reading_uncertainty * point.current_a, dc_last_digit * largest)));
      table.observations.push_back(std::move(seen));
    }
    known.push_back(std::move(table));
  }
  return known;
}

ObservationReport compare(const OutsideKnowledge& knowledge, const FamilyInfo& family, const LampKnowledge& captures) {
  const Eigen::MatrixXd covariance = matrix_of(captures);
  double square = 0.0;
  double expected = 0.0;
  for (const FigureObservation& seen : knowledge.observations) {
    expected = seen.figure(values_at(family, captures.full, captures.free));
    const Eigen::VectorXd slope = slopes(seen, family, captures);
    const double variance =
        seen.standard_uncertainty * seen.standard_uncertainty + std::max(0.0, slope.dot(covariance * slope));
    square += (expected - seen.observed) * (expected - seen.observed) / variance;
  }
  ObservationReport report;
  report.what = knowledge.what;
  report.deviation = std::sqrt(square / static_cast<double>(knowledge.observations.size()));
  report.counted = report.deviation <= contradiction;
  const std::string distance = fmt::format("{:.1f} standard deviations", report.deviation);
  const char* consequence = report.counted ? "it was counted" : "it disagrees and was left out";
  if (knowledge.what == "rated_power") {
    report.sentence =
        fmt::format("the label's {:.4g} W lie {} from the {:.4g} W of the captures alone: {}",
                    std::exp(knowledge.observations.front().observed), distance, std::exp(expected), consequence);
  } else {
    report.sentence =
        fmt::format("the DC table lies {} (rms) from what the captures alone say: {}", distance, consequence);
  }
  return report;
}

LampKnowledge combine(const std::vector<OutsideKnowledge>& knowledge, const FamilyInfo& family,
                      const LampKnowledge& captures) {
  return combined(knowledge, family, captures).both;
}

double disagreement(const std::vector<OutsideKnowledge>& knowledge, const FamilyInfo& family,
                    const LampKnowledge& captures) {
  return combined(knowledge, family, captures).chi_square;
}

namespace {

Combined combined(const std::vector<OutsideKnowledge>& knowledge, const FamilyInfo& family,
                  const LampKnowledge& captures) {
  std::vector<FigureObservation> all;
  for (const OutsideKnowledge& one : knowledge) {
    const double shared = std::sqrt(static_cast<double>(one.observations.size()));
    for (FigureObservation seen : one.observations) {
      seen.standard_uncertainty *= shared;
      all.push_back(std::move(seen));
    }
  }
  const auto n = static_cast<Eigen::Index>(family.parameters.size());
  const auto m = static_cast<Eigen::Index>(all.size());
  const Eigen::MatrixXd before = matrix_of(captures);
  const Eigen::Map<const Eigen::VectorXd> centre(captures.full.data(), n);
  LampKnowledge both = captures;
  Eigen::MatrixXd slope(m, n);
  Eigen::MatrixXd gain;
  double chi_square = 0.0;
  constexpr int most_rounds = 20;
  for (int round = 0; round < most_rounds; ++round) {
    Eigen::VectorXd left(m);
    Eigen::MatrixXd noise = Eigen::MatrixXd::Zero(m, m);
    const Eigen::Map<const Eigen::VectorXd> now(both.full.data(), n);
    const Eigen::VectorXd moved = (before.diagonal().array() > 0.0).select(now - centre, 0.0);
    for (Eigen::Index k = 0; k < m; ++k) {
      const FigureObservation& seen = all[static_cast<std::size_t>(k)];
      slope.row(k) = slopes(seen, family, both);
      left[k] = seen.observed - seen.figure(values_at(family, both.full, both.free)) + slope.row(k).dot(moved);
      noise(k, k) = seen.standard_uncertainty * seen.standard_uncertainty;
    }
    const Eigen::MatrixXd inverse =
        (slope * before * slope.transpose() + noise).ldlt().solve(Eigen::MatrixXd::Identity(m, m));
    chi_square = left.dot(inverse * left);
    gain = before * slope.transpose() * inverse;
    const Eigen::VectorXd shift = gain * left;
    double change = 0.0;
    for (Eigen::Index j = 0; j < n; ++j) {
      if (before(j, j) <= 0.0) continue;
      const ParameterSpec& spec = family.parameters[static_cast<std::size_t>(j)];
      double& coordinate = both.full[static_cast<std::size_t>(j)];
      const double next =
          std::clamp(centre[j] + shift[j], to_coordinate(spec, spec.lower), to_coordinate(spec, spec.upper));
      change = std::max(change, std::abs(next - coordinate) / std::sqrt(before(j, j)));
      coordinate = next;
    }
    if (change < 1e-4) break;
  }
  Eigen::MatrixXd after = before - gain * slope * before;
  after = 0.5 * (after + after.transpose()).eval();
  std::copy(after.data(), after.data() + n * n, both.covariance.begin());
  return {both, chi_square};
}

}  // namespace

}  // namespace lampload
