#include "fit/next_capture.h"

#include <fmt/format.h>

#include <Eigen/Core>
#include <Eigen/QR>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

#include "core/advice/left_open.h"
#include "core/advice/load_figures.h"
#include "core/error.h"
#include "core/parallel.h"
#include "fit/estimates.h"
#include "fit/information.h"
#include "fit/trial_capture.h"

namespace lampload {
namespace {

constexpr double known_well_enough = 0.05;  // relative 95 % half width of the worst load figure
constexpr double worth_the_trip = 0.8;      // it must become this much narrower
constexpr double about_as_good = 1.05;      // the capture that is easier to take wins

/// drives: of the captures.
std::vector<CaptureSetup> possible_captures(std::span<const Capture> captures, const std::vector<DrivenCapture>& drives,
                                            double bandwidth_hz, const OperatingPoint& at) {
  // The instrument is that of the captures there are: rate, bandwidth, noise, and how well its ranges were used at
  // best.
  CaptureSetup usual;
  usual.bandwidth_hz = bandwidth_hz;
  // A fine step under much noise shows no more than a coarse one.
  const double steps_of_noise = std::hypot(usual.noise_steps, 1.0 / std::sqrt(12.0));
  double finest_step = 0.0, finest_share = 0.0, interval_s = 1e-3;
  for (std::size_t c = 0; c < captures.size(); ++c) {
    const Capture& capture = captures[c];
    interval_s = std::min(interval_s, capture.sample_interval_s);
    double peak = 0.0;
    for (const double i : capture.current_a) peak = std::max(peak, std::abs(i));
    const double current_step_a = std::max(capture.current_step_a, drives[c].current_noise_a / steps_of_noise);
    const double voltage_step_v = std::max(capture.voltage_step_v, drives[c].voltage_noise_v / steps_of_noise);
    const double share = peak > 0.0 ? current_step_a / peak : 0.0;
    if (voltage_step_v > 0.0 && (finest_step == 0.0 || voltage_step_v < finest_step)) finest_step = voltage_step_v;
    if (share > 0.0 && (finest_share == 0.0 || share < finest_share)) finest_share = share;
  }
  usual.sample_interval_s = std::clamp(interval_s, 2e-6, 2e-5);
  usual.voltage_step_v = finest_step > 0.0 ? finest_step : 0.005 * at.voltage_v;
  usual.current_step_of_peak = finest_share > 0.0 ? finest_share : 0.008;
  std::vector<CaptureSetup> all;
  const auto add = [&](bool turn_on, Edge edge, double degrees, int cycles, double interval) {
    CaptureSetup setup = usual;
    setup.turn_on = turn_on;
    setup.edge = edge;
    setup.conduction_deg = degrees;
    setup.cycles = cycles;
    setup.sample_interval_s = interval;
    all.push_back(setup);
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

/// A relative half width, as the logarithm of a ratio.
std::string width_in_words(double width) {
  constexpr double wide = 0.5;
  return width < wide ? fmt::format("{:.0f} %", 100.0 * width) : fmt::format("a factor of {:.1f}", std::exp(width));
}

const LoadFigure* worst_of(const CaptureValue& value, double LoadFigure::*width) {
  const LoadFigure* worst = nullptr;
  for (const LoadFigure& figure : value.figures) {
    if (worst == nullptr || figure.*width > worst->*width) worst = &figure;
  }
  return worst;
}

/// Relative standard uncertainty of each load figure that no further capture lessens: what the family does not know of
/// real circuits, by the figures' slopes, which are those of the open ways.
Eigen::VectorXd lasting_of(const LeftOpen& open, const LampResiduals& solution) {
  const auto ways = static_cast<Eigen::Index>(open.ways.size());
  const auto figures = static_cast<Eigen::Index>(open.figures.size());
  const auto parameters = static_cast<Eigen::Index>(open.ways[0].up.by.size());
  Eigen::MatrixXd by = Eigen::MatrixXd::Zero(ways, parameters);
  Eigen::MatrixXd moved = Eigen::MatrixXd::Zero(ways, figures);
  for (Eigen::Index a = 0; a < ways; ++a) {
    const OpenWay& way = open.ways[static_cast<std::size_t>(a)];
    if (way.absent_part) continue;
    const auto vector_of = [](const std::vector<double>& x) {
      return Eigen::Map<const Eigen::RowVectorXd>(x.data(), static_cast<Eigen::Index>(x.size()));
    };
    by.row(a) = vector_of(way.up.by) - vector_of(way.down.by);
    moved.row(a) = vector_of(way.up.figures) - vector_of(way.down.figures);
  }
  const Eigen::MatrixXd slopes = by.completeOrthogonalDecomposition().solve(moved);
  Eigen::VectorXd lasting = Eigen::VectorXd::Zero(figures);
  for (const std::size_t j : solution.free_unknowns()) {
    const Unknown& unknown = solution.layout()[j];
    if (unknown.kind == Unknown::Kind::lamp)
      lasting += (unknown.model_sd * slopes.row(static_cast<Eigen::Index>(j))).cwiseAbs2().transpose();
  }
  return lasting.cwiseSqrt();
}

}  // namespace

std::vector<CaptureValue> values_of_captures(LampResiduals& solution, const Candidate& candidate,
                                             const Uncertainty& uncertainty, const LampEvidence& evidence,
                                             std::span<const Capture> captures, const OperatingPoint& at,
                                             const UncertaintyOptions& scale_errors, unsigned threads) {
  const LeftOpen open = left_open(evidence, at);
  if (open.figures.empty() || open.ways.empty()) return {};
  const FamilyInfo& family = lamp_families()[candidate.family];
  const KnownBefore known = known_before(solution, candidate, uncertainty, open);
  const auto ways = static_cast<Eigen::Index>(open.ways.size());
  const Eigen::MatrixXd now_known = inverse_of(known.information).topLeftCorner(ways, ways);
  // What each figure's ends are made of, in the order of load_figures(): up, down.
  std::vector<std::array<Eigen::VectorXd, 2>> reaches(open.figures.size());
  for (std::size_t figure = 0; figure < open.figures.size(); ++figure) {
    for (std::size_t side = 0; side < 2; ++side) {
      const std::vector<Contribution> contributions = contributions_to(figure, side == 0 ? 1.0 : -1.0, open);
      Eigen::VectorXd& reach = reaches[figure][side];
      reach.resize(static_cast<Eigen::Index>(contributions.size()));
      for (std::size_t a = 0; a < contributions.size(); ++a) {
        const bool by_down = contributions[a].end == &open.ways[a].down;
        reach[static_cast<Eigen::Index>(a)] = by_down ? -contributions[a].reach : contributions[a].reach;
      }
    }
  }
  const double scale =
      coverage * std::hypot(scale_errors.voltage_gain_uncertainty, scale_errors.current_gain_uncertainty);
  const Eigen::VectorXd lasting = coverage * lasting_of(open, solution);
  const std::vector<CaptureSetup> possible =
      possible_captures(captures, solution.drives(),
                        1.0 / (2.0 * std::numbers::pi * std::exp(candidate.full[family.parameters.size()])), at);
  std::vector<std::optional<CaptureValue>> values(possible.size());
  in_parallel(possible.size(), threads, [&](std::size_t k) {
    try {
      TrialCapture trial(candidate, *evidence.lamp, at, possible[k], known);
      const Eigen::MatrixXd then = trial.covariance_with(open);
      CaptureValue value{possible[k], {}};
      for (std::size_t figure = 0; figure < reaches.size(); ++figure) {
        LoadFigure one{std::string(load_figure_names[figure])};
        for (const Eigen::VectorXd& reach : reaches[figure]) {
          const double now = reach.norm();
          const double stays = std::min(std::hypot(lasting[static_cast<Eigen::Index>(figure)], scale), now);
          // The stated uncertainty is larger than that of least squares; a new capture lessens both by the same share.
          const double share =
              std::clamp(reach.dot(then * reach) / std::max(reach.dot(now_known * reach), 1e-300), 0.0, 1.0);
          one.now += 0.5 * now;
          one.then += 0.5 * std::sqrt(stays * stays + (now * now - stays * stays) * share);
        }
        value.figures.push_back(std::move(one));
      }
      values[k] = std::move(value);
    } catch (const Error& error) {
      // such a capture would show nothing of this lamp
      if (error.code() != ErrorCode::calculation && error.code() != ErrorCode::input_refused) throw;
    }
  });
  std::vector<CaptureValue> result;
  for (std::optional<CaptureValue>& one : values) {
    if (one) result.push_back(std::move(*one));
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
      next.sentence = fmt::format("{} is known to {} only (95 %); {} would make that {}", spoken(worst.name),
                                  width_in_words(worst.now), in_words(best->setup), width_in_words(worst.then));
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
