#include "fit/lamp_type.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

#include "core/error.h"
#include "fit/estimates.h"
#include "fit/pieces.h"

namespace lampload {
namespace {

/// A sample that cannot be fitted is a sample that no family describes.
FitResult fit_sample(const SampleCaptures& sample, const FitOptions& options) {
  try {
    return fit_lamp(sample.captures, sample.figures, options);
  } catch (const Error& error) {
    if (error.code() != ErrorCode::calculation) throw;
    FitResult none;
    none.verdict = error.message();
    none.seed = options.seed;
    return none;
  }
}

/// The criteria of all samples added up. A family that one of them rules out is far behind there.
std::vector<Rival> families_together(std::span<const SampleFit> samples) {
  constexpr double ruled_out = 100.0;  // ten times what is decisive
  std::map<std::pair<std::string, std::string>, double> sums;
  const auto key = [](const auto& one) { return std::pair(one.family, one.load_law); };
  double fitted = 0.0;
  for (const SampleFit& sample : samples) {
    if (sample.fit.family.empty()) continue;
    fitted += 1.0;
    sums[key(sample.fit)] -= ruled_out;
    for (const Rival& rival : sample.fit.rivals) sums[key(rival)] += rival.distance - ruled_out;
  }
  std::vector<Rival> together;
  for (const FamilyInfo& family : lamp_families()) {
    const auto found = sums.find({std::string(family.name), std::string(family.load_law)});
    if (found != sums.end())
      together.push_back({found->first.first, found->first.second, found->second + fitted * ruled_out});
  }
  std::stable_sort(together.begin(), together.end(),
                   [](const Rival& a, const Rival& b) { return a.distance < b.distance; });
  for (std::size_t k = together.size(); k-- > 0;) together[k].distance -= together[0].distance;
  return together;
}

/// What all samples have in common but for their numbers, from theirs; the number is the mean's.
Estimate held_estimate(const ParameterSpec& spec, std::span<const SampleFit* const> samples, std::size_t j) {
  const Estimate* first = &samples.front()->fit.parameters[j];
  double lower = first->lower_95;
  double upper = first->upper_95;
  double sum = 0.0;
  double count = 0.0;
  for (const SampleFit* sample : samples) {
    const Estimate& one = sample->fit.parameters[j];
    lower = std::min(lower, one.lower_95);
    upper = std::max(upper, one.upper_95);
    if (one.identified) continue;
    if (first->identified) first = &one;
    sum += one.value;
    count += 1.0;
  }
  Estimate estimate = *first;
  estimate.identified = false;
  estimate.standard_uncertainty = 0.0;
  estimate.value = spec.optional ? spec.absent : sum / std::max(count, 1.0);
  estimate.lower_95 = lower;
  estimate.upper_95 = upper;
  return estimate;
}

Estimate mean_estimate(const ParameterSpec& spec, std::span<const SampleFit* const> samples, std::size_t j,
                       const Mean& mean, double coverage_of_pieces) {
  const auto at = static_cast<Eigen::Index>(j);
  const double random = mean.of_captures(at, at) + mean.of_pieces(at, at);
  const double sd = std::sqrt(random + mean.shared(at, at));
  const double half_width =
      std::hypot(coverage_of_pieces * std::sqrt(random), coverage_95 * std::sqrt(mean.shared(at, at)));
  const auto end = [&](double by) { return spec.within(from_coordinate(spec, mean.coordinates[at] + by)); };
  Estimate estimate;
  estimate.name = spec.name;
  estimate.unit = spec.unit;
  estimate.value = end(0.0);
  estimate.lower_95 = end(-half_width);
  estimate.upper_95 = end(+half_width);
  const auto known = std::find_if(samples.begin(), samples.end(),
                                  [&](const SampleFit* sample) { return sample->fit.parameters[j].identified; });
  estimate.identified = known != samples.end() && sd <= identified_sd;
  if (estimate.identified) {
    estimate.standard_uncertainty = sd * (spec.logarithmic ? estimate.value : spec.scale);
  } else {
    estimate.remark =
        known == samples.end() ? samples.front()->fit.parameters[j].remark : "not identified by these captures";
  }
  return estimate;
}

/// A figure that has no logarithm in some sample.
Estimate without_spread(const DerivedFigure& figure) {
  Estimate estimate;
  estimate.name = figure.name;
  estimate.unit = figure.unit;
  estimate.value = estimate.lower_95 = estimate.upper_95 = figure.value;
  estimate.identified = false;
  estimate.remark = "0 in one of the samples";
  return estimate;
}

std::vector<double> row_by_row(const Eigen::MatrixXd& symmetric) {
  return {symmetric.data(), symmetric.data() + symmetric.size()};
}

LoadSpread load_spread_of(const std::vector<NamedSpread>& load) {
  LoadSpread spread;
  for (const NamedSpread& one : load)
    *spread.figure(one.name) = {one.known.spread, one.known.lower_95, one.known.upper_95};
  if (load.empty()) return spread;
  constexpr double little = 0.2;  // of what is known, from elsewhere
  spread.samples = static_cast<int>(load.front().known.pieces);
  spread.source = load.front().known.usual_share > little ? "mixture" : "measured";
  return spread;
}

/// Mean and spread over the samples that the common family describes: two or more.
void combine_samples(LampTypeFit& result, std::span<const SampleFit* const> samples) {
  FitResult& type = result.type;
  const FamilyInfo& family = find_family(samples[0]->fit.family, samples[0]->fit.load_law);
  type.at = samples[0]->fit.at;
  const FiguresOfValues figures(family, type.at);
  std::vector<Piece> pieces;
  for (const SampleFit* sample : samples) pieces.push_back(piece_of(sample->fit, family, figures));

  const auto n = static_cast<Eigen::Index>(family.parameters.size());
  const std::vector<DerivedFigure> derived = figures.derived(pieces[0].values);
  const auto first_load = static_cast<Eigen::Index>(derived.size());
  std::vector<bool> used(family.parameters.size(), false);
  Eigen::VectorXd spread = Eigen::VectorXd::Zero(n);
  Eigen::VectorXd usual = Eigen::VectorXd::Zero(n);
  std::vector<double> coverage(family.parameters.size(), coverage_95);
  for (Eigen::Index j = 0; j < n; ++j) {
    const auto at = static_cast<std::size_t>(j);
    std::vector<PieceValue> values;
    for (const Piece& piece : pieces) {
      if (piece.free[at]) values.push_back({piece.coordinates[j], piece.own(j, j)});
    }
    // A parameter that most samples do without is left out of the mean lamp too.
    if (2 * values.size() < pieces.size() || values.empty()) continue;
    used[at] = true;
    usual[j] = usual_of_parameter(pieces, j, first_load);
    const PieceSpread known = piece_spread(values, {.spread = usual[j]});
    spread[j] = known.spread;
    coverage[at] = known.coverage_95;
    result.parameters.push_back({std::string(family.parameters[at].name), family.parameters[at].logarithmic, known});
  }
  const Mean mean = mean_of(pieces, used, spread);
  std::vector<double> values;
  for (std::size_t j = 0; j < family.parameters.size(); ++j) {
    const ParameterSpec& spec = family.parameters[j];
    type.parameters.push_back(used[j] ? mean_estimate(spec, samples, j, mean, coverage[j])
                                      : held_estimate(spec, samples, j));
    values.push_back(type.parameters.back().value);
  }
  type.covariance = row_by_row(mean.of_captures + mean.shared);
  type.shared_covariance = row_by_row(mean.shared);

  std::vector<DerivedFigure> all = figures.derived(values);
  const std::vector<DerivedFigure> load = figures.load(values);
  all.insert(all.end(), load.begin(), load.end());
  for (std::size_t f = 0; f < all.size(); ++f) {
    const auto row = static_cast<Eigen::Index>(f);
    const bool loads = row >= first_load;
    if (std::any_of(pieces.begin(), pieces.end(),
                    [f](const Piece& piece) { return piece.log_figures[f] <= log_of_none; })) {
      if (!loads) type.derived.push_back(without_spread(all[f]));
      continue;
    }
    double usual_here = loads ? usual_spread : 0.0;
    double shared = all[f].relation_sd * all[f].relation_sd;
    std::vector<PieceValue> of_pieces;
    for (const Piece& piece : pieces) {
      const Eigen::VectorXd slopes = piece.slopes.row(row).transpose();
      of_pieces.push_back({piece.log_figures[f], slopes.dot(piece.own * slopes)});
      shared += slopes.dot(piece.shared * slopes) / static_cast<double>(pieces.size());
      if (!loads) usual_here = std::max(usual_here, slopes.cwiseProduct(usual).cwiseAbs().maxCoeff());
    }
    usual_here = std::clamp(usual_here, 1e-3, usual_spread);
    const PieceSpread known = piece_spread(of_pieces, {.spread = usual_here});
    (loads ? result.load : result.derived).push_back({all[f].name, true, known});
    if (loads) continue;
    Estimate estimate;
    estimate.name = all[f].name;
    estimate.unit = all[f].unit;
    estimate.value = all[f].value;
    const double half_width = std::hypot(known.coverage_95 * known.mean_sd, coverage_95 * std::sqrt(shared));
    estimate.lower_95 = estimate.value * std::exp(-half_width);
    estimate.upper_95 = estimate.value * std::exp(half_width);
    const double sd = std::hypot(known.mean_sd, std::sqrt(shared));
    estimate.identified = sd <= identified_sd;
    if (estimate.identified) {
      estimate.standard_uncertainty = sd * estimate.value;
    } else {
      estimate.remark = "not identified by these captures";
    }
    type.derived.push_back(std::move(estimate));
  }
  type.load_spread = load_spread_of(result.load);
}

/// Figures of the whole that are no estimates.
void summarise(FitResult& type, std::span<const SampleFit* const> samples) {
  double squares = 0.0;
  double normalised = 0.0;
  for (const SampleFit* sample : samples) {
    squares += sample->fit.residual_rms_a * sample->fit.residual_rms_a;
    normalised += sample->fit.normalised_residual * sample->fit.normalised_residual;
    if (type.next_capture.capture.empty()) type.next_capture = sample->fit.next_capture;
  }
  type.residual_rms_a = std::sqrt(squares / static_cast<double>(samples.size()));
  type.normalised_residual = std::sqrt(normalised / static_cast<double>(samples.size()));
}

}  // namespace

LampTypeFit fit_lamp_type(std::span<const SampleCaptures> samples, const FitOptions& options) {
  if (samples.empty()) throw Error(ErrorCode::input_refused, "a lamp type needs at least one sample");
  LampTypeFit result;
  if (samples.size() == 1) {
    result.type = fit_lamp(samples[0].captures, samples[0].figures, options);
    return result;
  }
  for (std::size_t i = 0; i < samples.size(); ++i) {
    FitOptions own = options;
    if (options.progress) {
      own.progress = [&, i](double share) {
        options.progress((static_cast<double>(i) + share) / static_cast<double>(samples.size()));
      };
    }
    result.samples.push_back({samples[i].label, fit_sample(samples[i], own)});
  }
  const std::vector<Rival> together = families_together(result.samples);
  FitResult& type = result.type;
  type.seed = options.seed;
  if (together.empty()) {
    type.verdict = "no sample could be fitted: " + result.samples.front().fit.verdict;
    return result;
  }
  FitOptions common = options;
  common.families = {
      static_cast<std::size_t>(&find_family(together[0].family, together[0].load_law) - lamp_families().data())};
  common.progress = {};
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const FitResult& found = result.samples[i].fit;
    if (found.family != together[0].family || found.load_law != together[0].load_law)
      result.samples[i].fit = fit_sample(samples[i], common);
  }
  std::vector<const SampleFit*> described;
  std::string left_out;
  for (const SampleFit& sample : result.samples) {
    if (sample.fit.accepted) {
      described.push_back(&sample);
    } else {
      left_out += fmt::format("; {} is left out: {}", sample.label, sample.fit.verdict);
    }
  }
  if (described.size() < 2) {
    type = described.empty() ? result.samples.front().fit : described.front()->fit;
    type.verdict += left_out;
    return result;
  }
  type.family = together[0].family;
  type.load_law = together[0].load_law;
  type.rivals.assign(together.begin() + 1, together.end());
  combine_samples(result, described);
  summarise(type, described);
  type.accepted = true;
  type.verdict =
      fmt::format("{} of {} samples are described by this family", described.size(), samples.size()) + left_out;
  return result;
}

}  // namespace lampload
