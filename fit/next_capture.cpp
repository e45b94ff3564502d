#include "fit/next_capture.h"

#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

#include "core/error.h"
#include "core/parallel.h"
#include "fit/estimates.h"
#include "fit/information.h"

namespace lampload {
namespace {

constexpr double known_well_enough = 0.05;  // relative 95 % half width of the worst load figure
constexpr double worth_the_trip = 0.8;      // it must become this much narrower
constexpr double about_as_good = 1.05;      // the capture that is easier to take wins

/// What is left of an information matrix about its first `kept` unknowns when the others are not known.
Eigen::MatrixXd about_first(const Eigen::MatrixXd& m, Eigen::Index kept) {
  const Eigen::Index rest = m.rows() - kept;
  if (rest == 0) return m;
  return m.topLeftCorner(kept, kept) -
         m.topRightCorner(kept, rest) * inverse_of(m.bottomRightCorner(rest, rest)) * m.bottomLeftCorner(rest, kept);
}

/// The information of the captures there are, about what a new one shares: free lamp parameters, bandwidth, delay.
struct KnownBefore {
  std::vector<std::size_t> lamp;  ///< indices of the free parameters in the family's table
  bool bandwidth = false;
  Eigen::MatrixXd information;
  Learned learned;
};

KnownBefore known_by(const LampResiduals& solution, const Uncertainty& uncertainty) {
  const auto& free = solution.free_unknowns();
  const auto n = static_cast<Eigen::Index>(free.size());
  const Eigen::Map<const Eigen::MatrixXd> all(uncertainty.information.data(), n, n);
  KnownBefore known;
  known.learned = solution.learned();
  std::vector<Eigen::Index> order;
  std::vector<Eigen::Index> others;
  std::vector<Eigen::Index> shared;
  for (Eigen::Index j = 0; j < n; ++j) {
    const Unknown& unknown = solution.layout()[free[static_cast<std::size_t>(j)]];
    if (unknown.kind == Unknown::Kind::lamp) {
      known.lamp.push_back(unknown.index);
      order.push_back(j);
    } else if (unknown.kind == Unknown::Kind::bandwidth) {
      known.bandwidth = true;
      shared.insert(shared.begin(), j);
    } else if (unknown.kind == Unknown::Kind::delay && unknown.capture == 0) {
      shared.push_back(j);
    } else {
      others.push_back(j);
    }
  }
  order.insert(order.end(), shared.begin(), shared.end());
  const auto kept = static_cast<Eigen::Index>(order.size());
  order.insert(order.end(), others.begin(), others.end());
  known.information = about_first(all(order, order), kept);
  return known;
}

/// A simulated capture with the residuals of the fitted lamp on it.
struct Trial {
  std::unique_ptr<LampResiduals> residuals;
  Eigen::MatrixXd jacobian;  ///< over its free unknowns: lamp, bandwidth, offset, delay, states
};

Trial try_capture(const Candidate& candidate, const Lamp& lamp, const OperatingPoint& at, const CaptureSetup& setup,
                  const KnownBefore& known) {
  const Capture capture = simulate_capture(lamp, at.voltage_v, at.frequency_hz, setup);
  Nominal nominal;
  nominal.voltage_v = at.voltage_v;
  nominal.frequency_hz = at.frequency_hz;
  const Figures figures = measure(capture, nominal);
  Trial trial;
  trial.residuals =
      make_residuals(candidate.family,
                     {make_drive(capture, figures, {.coarse_s = 80e-6, .fine_s = 5e-6, .max_duration_s = 0.16})}, {});
  const std::size_t parameters = lamp.parameters().size();
  std::vector<double> full(candidate.full.begin(), candidate.full.begin() + static_cast<std::ptrdiff_t>(parameters));
  std::vector<bool> free(parameters, false);
  for (const std::size_t j : known.lamp) free[j] = true;
  for (const Unknown& unknown : trial.residuals->layout()) {
    if (unknown.kind == Unknown::Kind::lamp) continue;
    const bool bandwidth = unknown.kind == Unknown::Kind::bandwidth;
    full.push_back(bandwidth ? candidate.full[parameters] : 0.0);
    free.push_back(!bandwidth || known.bandwidth);
  }
  full = trial.residuals->settle(std::move(full));
  trial.residuals->take_over(known.learned);
  trial.residuals->weigh(full);
  trial.residuals->set_free(free, full);
  const auto rows = static_cast<Eigen::Index>(trial.residuals->count());
  const auto columns = static_cast<Eigen::Index>(trial.residuals->unknowns());
  Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> jacobian(rows, columns);
  Eigen::VectorXd r(rows);
  if (!trial.residuals->evaluate(trial.residuals->reduce(full).data(), r.data(), jacobian.data()))
    throw Error(ErrorCode::calculation, "the model cannot be evaluated on a simulated capture");
  trial.jacobian = jacobian;
  return trial;
}

/// Covariance of the lamp's free parameters by least squares, with the trial's capture among the others.
Eigen::MatrixXd covariance_with(const KnownBefore& known, const Trial& trial) {
  const auto& residuals = *trial.residuals;
  const auto lamp = static_cast<Eigen::Index>(known.lamp.size());
  const Eigen::Index shared = known.information.rows();
  const Eigen::Index own = trial.jacobian.cols();
  const Eigen::MatrixXd fresh = trial.jacobian.transpose() * trial.jacobian;
  // In order: what is shared (the last of it the delay of the captures there are), then what is the new one's own.
  std::vector<Eigen::Index> place;
  Eigen::Index next = shared;
  std::optional<Eigen::Index> delay;
  for (Eigen::Index j = 0; j < own; ++j) {
    const Unknown& unknown = residuals.layout()[residuals.free_unknowns()[static_cast<std::size_t>(j)]];
    if (unknown.kind == Unknown::Kind::lamp || unknown.kind == Unknown::Kind::bandwidth) {
      place.push_back(j);
    } else {
      if (unknown.kind == Unknown::Kind::delay) delay = next;
      place.push_back(next++);
    }
  }
  Eigen::MatrixXd all = Eigen::MatrixXd::Zero(next, next);
  all.topLeftCorner(shared, shared) = known.information;
  for (Eigen::Index a = 0; a < own; ++a) {
    for (Eigen::Index b = 0; b < own; ++b)
      all(place[static_cast<std::size_t>(a)], place[static_cast<std::size_t>(b)]) += fresh(a, b);
  }
  // What is known of bandwidth and delay beforehand is in both: take the new capture's share out again.
  for (Eigen::Index j = 0; j < own; ++j) {
    const Unknown& unknown = residuals.layout()[residuals.free_unknowns()[static_cast<std::size_t>(j)]];
    if (!(unknown.prior_sd > 0.0)) continue;
    const Eigen::Index at = place[static_cast<std::size_t>(j)];
    all(at, at) -= known.learned.emphasis / (unknown.prior_sd * unknown.prior_sd);
  }
  if (delay && shared > lamp + (known.bandwidth ? 1 : 0)) {
    const double sd = delay_change_sd(residuals.drives()[0].dt_s);
    const double tie = known.learned.emphasis / (sd * sd);
    const Eigen::Index old = shared - 1;
    all(old, old) += tie;
    all(*delay, *delay) += tie;
    all(old, *delay) -= tie;
    all(*delay, old) -= tie;
  }
  return inverse_of(all).topLeftCorner(lamp, lamp);
}

/// Relative slopes of a load figure by the free lamp parameters, from the model's currents on a trial.
struct Slopes {
  std::string name;
  Eigen::VectorXd slopes;
};

void add_figures(const CaptureSetup& setup, const Trial& trial, Eigen::Index lamp, std::vector<Slopes>& figures) {
  const DrivenCapture& drive = trial.residuals->drives()[0];
  const auto& weights = trial.residuals->weights()[0];
  const auto& origins = trial.residuals->origins();
  double square = 0.0, highest = 0.0;
  Eigen::VectorXd square_slope = Eigen::VectorXd::Zero(lamp);
  Eigen::VectorXd peak_slope = square_slope;
  const double first_half_s = 0.5 / drive.frequency_hz;
  double since_turn_on = 0.0;
  constexpr double connected_v = 20.0;  // a turn-on begins before the switch closes
  bool on = !setup.turn_on;
  for (std::size_t row = 0; row < origins.size(); ++row) {
    const std::size_t k = origins[row].block;
    const double i = drive.current_a[k] - drive.offset_guess_a;
    const double sigma = weights[k];
    if (!on && std::abs(drive.voltage_v[drive.bounds[k + 1]]) > connected_v) on = true;
    if (!on) continue;
    if (setup.turn_on && since_turn_on > first_half_s) break;
    since_turn_on += drive.length_s(k);
    const Eigen::VectorXd by = sigma * trial.jacobian.row(static_cast<Eigen::Index>(row)).head(lamp).transpose();
    square += i * i * drive.length_s(k);
    square_slope += 2.0 * i * drive.length_s(k) * by;
    if (std::abs(i) > highest) {
      highest = std::abs(i);
      peak_slope = by / i;
    }
  }
  if (!(square > 0.0)) return;
  if (setup.turn_on) {
    figures.push_back({"surge_peak", peak_slope});
    figures.push_back({"surge_i2t", square_slope / square});
  } else {
    figures.push_back({"continuous_current", 0.5 * square_slope / square});
    if (setup.edge == Edge::leading) figures.push_back({"repetitive_peak", peak_slope});
  }
}

/// A capture that could be taken, and whether its currents are themselves what a channel has to carry.
struct Possible {
  CaptureSetup setup;
  bool shows_load;
};

std::vector<Possible> possible_captures(std::span<const Capture> captures, const OperatingPoint& at) {
  // The instrument is that of the captures there are: rate, voltage steps, and how well its ranges were used at best.
  CaptureSetup usual;
  double finest_step = 0.0, finest_share = 0.0, interval_s = 1e-3;
  for (const Capture& capture : captures) {
    interval_s = std::min(interval_s, capture.sample_interval_s);
    double peak = 0.0;
    for (const double i : capture.current_a) peak = std::max(peak, std::abs(i));
    const double share = peak > 0.0 ? capture.current_step_a / peak : 0.0;
    if (capture.voltage_step_v > 0.0 && (finest_step == 0.0 || capture.voltage_step_v < finest_step))
      finest_step = capture.voltage_step_v;
    if (share > 0.0 && (finest_share == 0.0 || share < finest_share)) finest_share = share;
  }
  usual.sample_interval_s = std::clamp(interval_s, 2e-6, 2e-5);
  usual.voltage_step_v = finest_step > 0.0 ? finest_step : 0.005 * at.voltage_v;
  usual.current_step_of_peak = finest_share > 0.0 ? finest_share : 0.008;
  std::vector<Possible> all;
  const auto add = [&](bool turn_on, Edge edge, double degrees, int cycles, double interval) {
    CaptureSetup setup = usual;
    setup.turn_on = turn_on;
    setup.edge = edge;
    setup.conduction_deg = degrees;
    setup.cycles = cycles;
    setup.sample_interval_s = interval;
    all.push_back({setup, edge != Edge::trailing && interval == usual.sample_interval_s});
  };
  const double usual_s = usual.sample_interval_s;
  add(false, Edge::none, 180.0, 4, usual_s);
  add(true, Edge::none, 180.0, 8, usual_s);
  for (const double degrees : {90.0, 120.0, 60.0}) add(false, Edge::leading, degrees, 4, usual_s);
  for (const double degrees : {90.0, 120.0, 60.0}) add(false, Edge::trailing, degrees, 4, usual_s);
  if (usual_s > 4e-6) {
    add(true, Edge::none, 180.0, 4, 2e-6);
    add(false, Edge::leading, 90.0, 3, 2e-6);
  }
  return all;
}

std::string_view kind_of(const CaptureSetup& setup) {
  if (setup.turn_on) return "turn_on";
  if (setup.edge == Edge::leading) return "leading_edge";
  if (setup.edge == Edge::trailing) return "trailing_edge";
  return "steady";
}

std::string in_words(const CaptureSetup& setup) {
  const std::string rate = fmt::format("at {:.0f} kHz or more", 1e-3 / setup.sample_interval_s);
  if (setup.turn_on)
    return fmt::format("a cold turn-on near the crest, begun a few milliseconds before the switch closes, {}", rate);
  if (setup.edge == Edge::none)
    return fmt::format("ten steady, uncut cycles at a range that the current fills, {}", rate);
  return fmt::format("a few cycles behind a {}-edge dimmer at about {:.0f} degrees of conduction, {}",
                     setup.edge == Edge::leading ? "leading" : "trailing", setup.conduction_deg, rate);
}

std::string spoken(std::string name) {
  std::replace(name.begin(), name.end(), '_', ' ');
  return name;
}

const LoadFigure* worst_of(const CaptureValue& value, double LoadFigure::*width) {
  const LoadFigure* worst = nullptr;
  for (const LoadFigure& figure : value.figures) {
    if (worst == nullptr || figure.*width > worst->*width) worst = &figure;
  }
  return worst;
}

}  // namespace

std::vector<CaptureValue> values_of_captures(const LampResiduals& solution, const Candidate& candidate,
                                             const Uncertainty& uncertainty, std::span<const Capture> captures,
                                             const OperatingPoint& at, const UncertaintyOptions& scale_errors,
                                             unsigned threads) {
  const FamilyInfo& family = lamp_families()[candidate.family];
  const std::size_t parameters = family.parameters.size();
  const KnownBefore known = known_by(solution, uncertainty);
  const auto lamp_count = static_cast<Eigen::Index>(known.lamp.size());
  if (lamp_count == 0) return {};
  std::vector<double> values;
  for (std::size_t j = 0; j < parameters; ++j) {
    const ParameterSpec& spec = family.parameters[j];
    values.push_back(std::isfinite(candidate.full[j]) ? spec.within(from_coordinate(spec, candidate.full[j]))
                                                      : spec.absent);
  }
  const Lamp lamp(family, values);

  const std::vector<Possible> possible = possible_captures(captures, at);
  std::vector<std::optional<Trial>> trials(possible.size());
  in_parallel(possible.size(), threads, [&](std::size_t k) {
    try {
      trials[k] = try_capture(candidate, lamp, at, possible[k].setup, known);
    } catch (const Error& error) {
      // such a capture would show nothing of this lamp
      if (error.code() != ErrorCode::calculation && error.code() != ErrorCode::input_refused) throw;
    }
  });
  std::vector<Slopes> figures;
  for (std::size_t k = 0; k < possible.size(); ++k) {
    if (trials[k] && possible[k].shows_load) add_figures(possible[k].setup, *trials[k], lamp_count, figures);
  }

  // The stated uncertainty is larger than that of least squares; a new capture lessens both by the same share, but for
  // the scale errors of the instruments.
  const auto n = static_cast<Eigen::Index>(parameters);
  const Eigen::Map<const Eigen::MatrixXd> stated_all(uncertainty.covariance.data(), n, n);
  std::vector<Eigen::Index> at_lamp(known.lamp.begin(), known.lamp.end());
  const Eigen::MatrixXd stated = stated_all(at_lamp, at_lamp);
  const Eigen::MatrixXd now = inverse_of(known.information).topLeftCorner(lamp_count, lamp_count);
  const double lasting_variance =
      std::pow(scale_errors.voltage_gain_uncertainty, 2) + std::pow(scale_errors.current_gain_uncertainty, 2);
  std::vector<CaptureValue> result;
  for (std::size_t k = 0; k < possible.size(); ++k) {
    if (!trials[k]) continue;
    const Eigen::MatrixXd then = covariance_with(known, *trials[k]);
    CaptureValue value{possible[k].setup, {}};
    for (const Slopes& figure : figures) {
      const auto variance = [&](const Eigen::MatrixXd& m) {
        return std::max(0.0, figure.slopes.dot(m * figure.slopes));
      };
      const double lasting = std::min(lasting_variance, variance(stated));
      const double share = std::clamp(variance(then) / std::max(variance(now), 1e-300), 0.0, 1.0);
      value.figures.push_back({figure.name, coverage_95 * std::sqrt(variance(stated)),
                               coverage_95 * std::sqrt(lasting + (variance(stated) - lasting) * share)});
    }
    result.push_back(std::move(value));
  }
  return result;
}

NextCapture next_capture(std::vector<CaptureValue> values) {
  const CaptureValue* best = nullptr;
  for (const CaptureValue& value : values) {
    if (value.figures.empty()) continue;
    if (best == nullptr ||
        worst_of(value, &LoadFigure::then)->then * about_as_good < worst_of(*best, &LoadFigure::then)->then)
      best = &value;
  }
  NextCapture next;
  if (best != nullptr) {
    const LoadFigure& worst = *worst_of(*best, &LoadFigure::now);
    if (worst.now >= known_well_enough && worst_of(*best, &LoadFigure::then)->then <= worth_the_trip * worst.now) {
      next.advised = static_cast<std::size_t>(best - values.data());
      next.capture = kind_of(best->setup);
      next.narrows = worst.name;
      next.sentence =
          fmt::format("{} is known to {:.0f} % only (95 %); {} would make that {:.0f} %", spoken(worst.name),
                      100.0 * std::min(worst.now, 9.99), in_words(best->setup), 100.0 * std::min(worst.then, 9.99));
    }
  }
  next.considered = std::move(values);
  return next;
}

NextCapture to_tell_from(const FamilyInfo& other, NextCapture next) {
  for (std::size_t k = 0; k < next.considered.size(); ++k) {
    const CaptureSetup& setup = next.considered[k].setup;
    if (kind_of(setup) != other.plain_until) continue;
    next.advised = k;
    next.capture = kind_of(setup);
    next.narrows = "family";
    next.sentence = fmt::format("a {} would look the same in such captures; {} would tell",
                                spoken(std::string(other.name)), in_words(setup));
    break;
  }
  return next;
}

}  // namespace lampload
