#include "fit/family_search.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <utility>

namespace lampload {
namespace {

constexpr std::size_t scattered_per_start = 2;
constexpr double scatter_sd = 0.6;            // of ln(value): a factor of about two
constexpr double usual_bandwidth_hz = 100e3;  // of a clamp, common practice, no source; where the search begins
constexpr double worth_freeing =
    12.0;  // fall of the cost, in blocks counted by their correlation, that pays for one parameter

std::unique_ptr<LampResiduals> residuals_on(const SearchInput& input, std::size_t family,
                                            const std::vector<Drive>& drives) {
  std::vector<DirectObservation> observations;
  const auto& parameters = lamp_families()[family].parameters;
  for (std::size_t j = 0; j < parameters.size(); ++j) {
    if (parameters[j].name == "cold_resistance_ohm" && input.nominal.cold_resistance_ohm) {
      // An ohmmeter at a few ohm with its leads: 3 % (common practice, no source).
      observations.push_back({j, to_coordinate(parameters[j], *input.nominal.cold_resistance_ohm), 0.03});
    }
  }
  return make_residuals(family, drives, std::move(observations));
}

bool optional_parameter(std::size_t family, const Unknown& unknown) {
  return unknown.kind == Unknown::Kind::lamp && lamp_families()[family].parameters[unknown.index].optional;
}

/// Solves from `candidate` and writes the result back.
void solve(LampResiduals& residuals, Candidate& candidate, const SolveOptions& options) {
  residuals.set_free(candidate.free, candidate.full);
  Box box;
  for (const std::size_t j : residuals.free_unknowns()) {
    box.lower.push_back(residuals.layout()[j].lower);
    box.upper.push_back(residuals.layout()[j].upper);
  }
  const Solution solution = minimise(residuals, residuals.reduce(candidate.full), box, options);
  candidate.usable = solution.usable;
  candidate.cost = solution.cost;
  candidate.full = residuals.expand(solution.x);
}

std::vector<double> first_vector(const SearchInput& input, const LampResiduals& residuals, std::size_t family,
                                 const std::vector<double>& lamp_start, std::vector<bool>& free) {
  const auto& parameters = lamp_families()[family].parameters;
  std::vector<double> full;
  free.clear();
  for (const Unknown& unknown : residuals.layout()) {
    double value = 0.0;
    switch (unknown.kind) {
      case Unknown::Kind::lamp: {
        const ParameterSpec& spec = parameters[unknown.index];
        value = to_coordinate(
            spec, spec.optional ? spec.absent : std::clamp(lamp_start[unknown.index], spec.lower, spec.upper));
        break;
      }
      case Unknown::Kind::bandwidth:
        value = -std::log(2.0 * std::numbers::pi * usual_bandwidth_hz);
        break;
      case Unknown::Kind::offset:
        value = input.figures[unknown.capture].current_offset_a;
        break;
      case Unknown::Kind::delay:
      case Unknown::Kind::state:
        break;
    }
    full.push_back(value);
    free.push_back(!optional_parameter(family, unknown));
  }
  return residuals.settled(std::move(full));
}

/// A candidate carried to drives that may begin elsewhere: the start states are found anew.
void carry(const LampResiduals& residuals, Candidate& candidate) { candidate.full = residuals.settled(candidate.full); }

}  // namespace

std::size_t start_count(const SearchInput& input, std::size_t family) {
  return family_starts(family, input.hints).size() * (1 + scattered_per_start);
}

Candidate run_start(const SearchInput& input, std::size_t family, std::size_t start) {
  const auto starts = family_starts(family, input.hints);
  std::vector<double> lamp_start = starts[start / (1 + scattered_per_start)];
  const std::size_t scatter = start % (1 + scattered_per_start);
  if (scatter > 0) {
    std::seed_seq seeds{static_cast<std::uint32_t>(input.seed), static_cast<std::uint32_t>(input.seed >> 32U),
                        static_cast<std::uint32_t>(family), static_cast<std::uint32_t>(start)};
    std::mt19937_64 random(seeds);
    // std::normal_distribution differs between libraries: a sum of twelve uniform numbers does not.
    const auto normal = [&] {
      double sum = -6.0;
      for (int k = 0; k < 12; ++k) sum += static_cast<double>(random() >> 11U) * 0x1p-53;
      return sum;
    };
    const auto& parameters = lamp_families()[family].parameters;
    for (std::size_t j = 0; j < lamp_start.size(); ++j) {
      if (parameters[j].logarithmic) lamp_start[j] *= std::exp(scatter_sd * normal());
    }
  }
  const auto residuals = residuals_on(input, family, input.scout);
  Candidate candidate;
  candidate.family = family;
  candidate.full = first_vector(input, *residuals, family, lamp_start, candidate.free);
  solve(*residuals, candidate, {.max_iterations = 25, .function_tolerance = 1e-4, .parameter_tolerance = 1e-6});
  return candidate;
}

Refined refine(const SearchInput& input, std::size_t family, std::vector<Candidate> scouted) {
  std::stable_sort(scouted.begin(), scouted.end(), [](const Candidate& a, const Candidate& b) {
    return a.usable != b.usable ? a.usable : a.cost < b.cost;
  });
  Refined best;
  best.residuals = residuals_on(input, family, input.judged);
  best.candidate = scouted.front();
  best.candidate.usable = false;
  // The second best start may overtake the first on the finer drives, unless both are the same place.
  for (std::size_t k = 0; k < std::min<std::size_t>(2, scouted.size()); ++k) {
    if (!scouted[k].usable) break;
    if (k > 0 && scouted[k].cost < 1.02 * scouted.front().cost) break;
    if (k > 0 && scouted[k].cost > 2.0 * scouted.front().cost) break;
    Candidate candidate = scouted[k];
    carry(*best.residuals, candidate);
    solve(*best.residuals, candidate, {.max_iterations = 40, .function_tolerance = 1e-5});
    if (candidate.usable && (!best.candidate.usable || candidate.cost < best.candidate.cost))
      best.candidate = candidate;
  }
  if (!best.candidate.usable) return best;

  for (std::size_t j = 0; j < best.residuals->layout().size(); ++j) {
    const Unknown& unknown = best.residuals->layout()[j];
    if (!optional_parameter(family, unknown)) continue;
    const ParameterSpec& spec = lamp_families()[family].parameters[unknown.index];
    Candidate trial = best.candidate;
    trial.free[j] = true;
    if (spec.logarithmic) trial.full[j] = 0.5 * (unknown.lower + unknown.upper);
    solve(*best.residuals, trial, {.max_iterations = 30, .function_tolerance = 1e-5});
    const double count = static_cast<double>(best.residuals->origins().size());
    // Structured misfit: what counts is the relative fall, over as many independent blocks as a tenth of them.
    const double gain = 0.1 * count * std::log(best.candidate.cost / std::max(trial.cost, 1e-300));
    if (trial.usable && gain > worth_freeing) best.candidate = trial;
  }
  best.residuals->set_free(best.candidate.free, best.candidate.full);
  return best;
}

Refined finish(const SearchInput& input, const Candidate& chosen) {
  Refined final;
  final.residuals = residuals_on(input, chosen.family, input.whole);
  final.candidate = chosen;
  carry(*final.residuals, final.candidate);
  solve(*final.residuals, final.candidate, {.max_iterations = 40, .function_tolerance = 1e-7});
  return final;
}

std::vector<bool> at_bound(const LampResiduals& residuals, const Candidate& candidate) {
  std::vector<bool> bound(candidate.full.size(), false);
  for (const std::size_t j : residuals.free_unknowns()) {
    const Unknown& unknown = residuals.layout()[j];
    const double near = 1e-4 * (unknown.upper - unknown.lower);
    bound[j] = candidate.full[j] - unknown.lower < near || unknown.upper - candidate.full[j] < near;
  }
  return bound;
}

}  // namespace lampload
