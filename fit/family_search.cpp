#include "fit/family_search.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <random>
#include <utility>

#include "core/parallel.h"
#include "core/standard_normal.h"
#include "fit/whiteness.h"

namespace lampload {
namespace {

constexpr std::size_t scattered_per_start = 2;
constexpr std::size_t starts_tried = 4;  // of a family, after weighing them all
constexpr int most_freed = 2;            // optional parameters of one lamp
constexpr double scatter_sd = 0.6;       // of ln(value): a factor of about two

}  // namespace

std::unique_ptr<LampResiduals> residuals_on(const SearchInput& input, std::size_t family, const SharedDrives& drives) {
  std::vector<DirectObservation> observations;
  const auto& parameters = lamp_families()[family].parameters;
  for (std::size_t j = 0; j < parameters.size(); ++j) {
    if (parameters[j].name == "cold_resistance_ohm" && input.nominal.cold_resistance_ohm) {
      // An ohmmeter at a few ohm with its leads: 3 % (common practice, no source).
      observations.push_back({j, to_coordinate(parameters[j], *input.nominal.cold_resistance_ohm), 0.03});
    }
  }
  return make_residuals(family, drives, std::move(observations), family_usual(family, input.hints));
}

namespace {

/// The candidate with bandwidth and delays back at what is usual: a slow clamp and an early delay can stand in for each
/// other and for the lamp's own inertia.
Candidate with_usual_instrument(const LampResiduals& residuals, const Candidate& candidate) {
  Candidate usual = candidate;
  for (std::size_t k = 0; k < usual.full.size(); ++k) {
    const Unknown& unknown = residuals.layout()[k];
    if (unknown.kind == Unknown::Kind::bandwidth || unknown.kind == Unknown::Kind::delay)
      usual.full[k] = unknown.prior_mean;
  }
  return usual;
}

/// The candidate with one optional parameter set free in the middle of its range, and the bandwidth held at what is
/// usual, since a slow clamp may have stood in for it.
Candidate with_parameter(const LampResiduals& residuals, const Candidate& candidate, std::size_t j) {
  Candidate trial = candidate;
  trial.free[j] = true;
  const Unknown& freed = residuals.layout()[j];
  if (std::isinf(trial.full[j])) trial.full[j] = 0.5 * (freed.lower + freed.upper);
  for (std::size_t k = 0; k < trial.full.size(); ++k) {
    const Unknown& unknown = residuals.layout()[k];
    if (unknown.kind != Unknown::Kind::bandwidth) continue;
    trial.full[k] = unknown.prior_mean;
    trial.free[k] = false;
  }
  return trial;
}

bool optional_parameter(std::size_t family, const Unknown& unknown) {
  return unknown.kind == Unknown::Kind::lamp && lamp_families()[family].parameters[unknown.index].optional;
}

}  // namespace

bool leans_on_bound(const LampResiduals& residuals, const Candidate& candidate) {
  const auto& parameters = lamp_families()[candidate.family].parameters;
  for (std::size_t j = 0; j < parameters.size(); ++j) {
    if (parameters[j].optional || !parameters[j].logarithmic || !candidate.free[j]) continue;
    const Unknown& unknown = residuals.layout()[j];
    const double near = 0.03 * (unknown.upper - unknown.lower);
    if (candidate.full[j] < unknown.lower + near || candidate.full[j] > unknown.upper - near) return true;
  }
  return false;
}

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

namespace {

/// Half the sum of squares; infinite where the model cannot be evaluated.
double cost_of(LampResiduals& residuals, const Candidate& candidate) {
  residuals.set_free(candidate.free, candidate.full);
  std::vector<double> r(residuals.count());
  if (!residuals.evaluate(residuals.reduce(candidate.full).data(), r.data(), nullptr))
    return std::numeric_limits<double>::infinity();
  return 0.5 * std::inner_product(r.begin(), r.end(), r.begin(), 0.0);
}

std::vector<double> first_vector(const SearchInput& input, LampResiduals& residuals, std::size_t family,
                                 const std::vector<double>& lamp_start, std::vector<bool>& free) {
  const auto& parameters = lamp_families()[family].parameters;
  std::vector<double> full;
  free.clear();
  for (const Unknown& unknown : residuals.layout()) {
    double value = 0.0;
    switch (unknown.kind) {
      case Unknown::Kind::lamp: {
        const ParameterSpec& spec = parameters[unknown.index];
        value = to_coordinate(spec, spec.optional ? spec.absent : spec.within(lamp_start[unknown.index]));
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
    // The coarse drives cannot tell a slow clamp from a lamp's own inertia: the bandwidth is freed on the finer ones.
    free.push_back(!optional_parameter(family, unknown) && unknown.kind != Unknown::Kind::bandwidth);
  }
  return residuals.settle(std::move(full));
}

}  // namespace

double misfit(const LampResiduals& residuals, std::span<const double> full) {
  const LampResiduals::Score score = residuals.score(full, Use::fitted, residuals.weights());
  return score.sum + score.log_variance;
}

std::vector<Candidate> promising_starts(const SearchInput& input, std::size_t family) {
  const Feed feed = lamp_families()[family].feed;
  if (!(input.hints.frequency_hz > 0.0 ? fed_by_mains(feed) : fed_by_dc(feed))) return {};
  const std::vector<std::vector<double>> plain_starts = family_starts(family, input.hints);
  if (plain_starts.empty()) return {};
  const auto& parameters = lamp_families()[family].parameters;
  const auto residuals = residuals_on(input, family, input.scout);
  std::seed_seq seeds{static_cast<std::uint32_t>(input.seed), static_cast<std::uint32_t>(input.seed >> 32U),
                      static_cast<std::uint32_t>(family)};
  std::mt19937_64 random(seeds);
  std::vector<Candidate> starts;
  for (const std::vector<double>& plain : plain_starts) {
    for (std::size_t copy = 0; copy <= scattered_per_start; ++copy) {
      std::vector<double> lamp = plain;
      for (std::size_t j = 0; copy > 0 && j < lamp.size(); ++j) {
        if (parameters[j].logarithmic) lamp[j] *= std::exp(scatter_sd * standard_normal(random));
      }
      Candidate start;
      start.family = family;
      start.full = first_vector(input, *residuals, family, lamp, start.free);
      const LampResiduals::Score score = residuals->score(start.full, Use::fitted, residuals->weights());
      start.usable = std::isfinite(score.sum);
      start.cost = score.sum;
      if (start.usable) starts.push_back(std::move(start));
    }
  }
  std::stable_sort(starts.begin(), starts.end(),
                   [](const Candidate& a, const Candidate& b) { return a.cost < b.cost; });
  if (starts.size() > starts_tried) starts.resize(starts_tried);
  return starts;
}

Candidate run_start(const SearchInput& input, const Candidate& start) {
  const auto residuals = residuals_on(input, start.family, input.scout);
  Candidate candidate = start;
  residuals->weigh(candidate.full);
  solve(*residuals, candidate,
        {.max_iterations = 20, .function_tolerance = 1e-3, .parameter_tolerance = 1e-5, .bound_rounds = 1});
  residuals->weigh(candidate.full);
  solve(*residuals, candidate,
        {.max_iterations = 10, .function_tolerance = 1e-3, .parameter_tolerance = 1e-5, .bound_rounds = 1});
  candidate.cost = misfit(*residuals, candidate.full);
  candidate.usable = candidate.usable && std::isfinite(candidate.cost);
  return candidate;
}

namespace {

Refined refine_best(const SearchInput& input, std::size_t family, std::vector<Candidate> scouted,
                    double worth_refining) {
  std::stable_sort(scouted.begin(), scouted.end(), [](const Candidate& a, const Candidate& b) {
    return a.usable != b.usable ? a.usable : a.cost < b.cost;
  });
  Refined best;
  best.residuals = residuals_on(input, family, input.judged);
  best.candidate = scouted.front();
  best.trials.resize(lamp_families()[family].parameters.size());
  if (!best.candidate.usable) return best;
  best.candidate.full = best.residuals->settle(best.candidate.full);  // other drives may begin elsewhere
  best.residuals->weigh(best.candidate.full);
  best.residuals->set_free(best.candidate.free, best.candidate.full);
  if (best.candidate.cost > worth_refining) return best;
  for (std::size_t j = 0; j < best.candidate.free.size(); ++j) {
    if (best.residuals->layout()[j].kind == Unknown::Kind::bandwidth) best.candidate.free[j] = true;
  }
  solve(*best.residuals, best.candidate, {.max_iterations = 30, .function_tolerance = 1e-4});
  if (!best.candidate.usable) return best;
  best.residuals->weigh(best.candidate.full);
  solve(*best.residuals, best.candidate, {.max_iterations = 20, .function_tolerance = 1e-5});

  // Optional parameters one by one, each time the one that helps most.
  // Structured misfit: what counts is the relative fall, over as many independent blocks as a tenth of them.
  const double independent = 0.1 * static_cast<double>(best.residuals->origins().size());
  for (int freed = 0; freed < most_freed; ++freed) {
    Candidate better;
    std::size_t helps_most = 0;
    for (std::size_t j = 0; j < best.residuals->layout().size(); ++j) {
      if (!optional_parameter(family, best.residuals->layout()[j]) || best.candidate.free[j]) continue;
      if (!lamp_families()[family].parameters[j].part.empty()) continue;  // optional_parts.h
      Candidate trial = with_parameter(*best.residuals, best.candidate, j);
      solve(*best.residuals, trial, {.max_iterations = 12, .function_tolerance = 1e-3, .bound_rounds = 1});
      for (std::size_t k = 0; k < trial.free.size(); ++k) trial.free[k] = trial.free[k] || best.candidate.free[k];
      solve(*best.residuals, trial, {.max_iterations = 12, .function_tolerance = 1e-3, .bound_rounds = 1});
      const Unknown& unknown = best.residuals->layout()[j];
      const bool vanished = trial.full[j] <= unknown.lower + 1e-3 * (unknown.upper - unknown.lower) &&
                            lamp_families()[family].parameters[unknown.index].logarithmic;
      using End = FreeingTrial::End;
      FreeingTrial& came = best.trials[unknown.index];
      if (!trial.usable) {
        came = {End::not_converged};
      } else if (vanished) {
        came = {End::vanished};
      } else if (leans_on_bound(*best.residuals, trial)) {
        came = {End::leans_on_bound};
      } else {
        came.gain = independent * std::log(best.candidate.cost / trial.cost);
        came.end = came.gain < worth_freeing ? End::does_not_pay : End::enough_freed;
        if (!better.usable || trial.cost < better.cost) {
          better = trial;
          helps_most = unknown.index;
        }
      }
    }
    if (!better.usable || best.trials[helps_most].end == FreeingTrial::End::does_not_pay) break;
    best.residuals->weigh(better.full);
    solve(*best.residuals, better, {.max_iterations = 15, .function_tolerance = 1e-4});
    if (!better.usable || leans_on_bound(*best.residuals, better)) {
      best.residuals->weigh(best.candidate.full);
      best.trials[helps_most].end =
          better.usable ? FreeingTrial::End::leans_on_bound : FreeingTrial::End::not_converged;
      break;
    }
    best.trials[helps_most].end = FreeingTrial::End::freed;
    best.candidate = better;
  }
  best.residuals->set_free(best.candidate.free, best.candidate.full);
  return best;
}

}  // namespace

Refined refine(const SearchInput& input, std::size_t family, std::vector<Candidate> scouted, double worth_refining) {
  Refined best = refine_best(input, family, std::move(scouted), worth_refining);
  if (best.candidate.usable) best.misfit = misfit(*best.residuals, best.candidate.full);
  return best;
}

Refined with_parts_of(const SearchInput& input, Refined own, const Refined& other) {
  const auto& own_table = lamp_families()[own.candidate.family].parameters;
  const auto& other_table = lamp_families()[other.candidate.family].parameters;
  const auto same = [&](const Unknown& a, const Unknown& b) {
    if (a.kind != b.kind || a.capture != b.capture) return false;
    return a.kind == Unknown::Kind::lamp ? own_table[a.index].name == other_table[b.index].name : a.index == b.index;
  };
  Refined trial;
  trial.residuals = residuals_on(input, own.candidate.family, input.judged);
  trial.candidate = own.candidate;
  trial.trials = own.trials;
  const auto& layout = trial.residuals->layout();
  const auto& from = other.residuals->layout();
  for (std::size_t j = 0; j < layout.size(); ++j) {
    for (std::size_t k = 0; k < from.size(); ++k) {
      if (!same(layout[j], from[k])) continue;
      trial.candidate.full[j] = other.candidate.full[k];
      trial.candidate.free[j] = other.candidate.free[k];
    }
  }
  trial.candidate.full = trial.residuals->settle(trial.candidate.full);
  for (int round = 0; round < 2; ++round) {
    trial.residuals->weigh(trial.candidate.full);
    solve(*trial.residuals, trial.candidate, {.max_iterations = 15, .function_tolerance = 1e-4});
  }
  if (!trial.candidate.usable || leans_on_bound(*trial.residuals, trial.candidate)) return own;
  trial.misfit = misfit(*trial.residuals, trial.candidate.full);
  return trial.misfit < own.misfit ? std::move(trial) : std::move(own);
}

namespace {

/// The solution with as much of the allowances as its residuals ask for. A lamp that runs to the end of what is
/// physical then was held by them: it keeps them whole.
void spend_less_on_allowances(Refined& solution) {
  LampResiduals& residuals = *solution.residuals;
  const Candidate with_whole = solution.candidate;
  for (int round = 0; round < 2; ++round) {
    const double misses = missing(residuals, solution.candidate.full);
    if (misses >= 1.0 && round == 0) return;
    residuals.learn(solution.candidate.full, misses);
    solve(residuals, solution.candidate, {.max_iterations = 20, .function_tolerance = 1e-6});
  }
  if (solution.candidate.usable &&
      (leans_on_bound(residuals, with_whole) || !leans_on_bound(residuals, solution.candidate)))
    return;
  solution.candidate = with_whole;
  residuals.learn(with_whole.full, 1.0);
  residuals.set_free(with_whole.free, with_whole.full);
}

/// Where a solution leaves little but noise, it is as good as the equations are solved: once more with blocks and steps
/// as short as what happens in them. It takes the solution's place where nothing but noise is left then.
void solve_closely(const SearchInput& input, Refined& solution, unsigned threads) {
  constexpr double longest_step_s = 2.5e-6;  // against a clamp's time constant of some microseconds
  constexpr double few_samples = 4.5;        // the mean of a block of so few is not that of the current between them
  std::vector<DrivenCapture> drives(input.captures.size());
  in_parallel(drives.size(), threads, [&](std::size_t c) {
    DriveOptions options = whole_record;
    const double sample_s = input.captures[c].sample_interval_s;
    if (options.coarse_s < few_samples * sample_s) options.coarse_s = sample_s;
    options.step_s = longest_step_s;
    drives[c] = in_other_blocks((*input.whole)[c], input.captures[c], input.figures[c], options);
    draw_noise(drives[c], c + 1);
  });
  const SharedDrives shared = std::make_shared<const std::vector<DrivenCapture>>(std::move(drives));
  // What the allowances had hidden may part solutions that were as good before: from the usual instrument too, and from
  // it early and late (decision 65).
  constexpr std::array<double, 4> later = {0.0, 0.0, -1.0, 1.0};  // of all delays, in their coordinate
  constexpr std::size_t quick = 40000;                            // blocks; long records take one way alone
  std::size_t blocks = 0;
  for (const DrivenCapture& drive : *shared) blocks += drive.blocks();
  std::array<Refined, later.size()> ways;
  std::array<bool, ways.size()> white{};
  in_parallel(blocks <= quick ? ways.size() : 1, threads, [&](std::size_t k) {
    Refined& way = ways[k];
    way.residuals = residuals_on(input, solution.candidate.family, shared);
    way.candidate = solution.candidate;
    if (k > 0) {
      way.candidate = with_usual_instrument(*way.residuals, way.candidate);
      for (std::size_t j = 0; j < way.candidate.full.size(); ++j) {
        if (way.residuals->layout()[j].kind == Unknown::Kind::delay) way.candidate.full[j] += later[k];
      }
    }
    way.candidate.full = way.residuals->settle(way.candidate.full);
    way.residuals->take_over(solution.residuals->learned());
    way.residuals->weigh(way.candidate.full);
    solve(*way.residuals, way.candidate, {.max_iterations = 20, .function_tolerance = 1e-6});
    for (int round = 0; round < 2; ++round) {
      if (!way.candidate.usable || missing(*way.residuals, way.candidate.full) > 0.0) return;
      way.residuals->learn(way.candidate.full, 0.0);
      solve(*way.residuals, way.candidate, {.max_iterations = 40, .function_tolerance = 1e-8});
    }
    white[k] = way.candidate.usable && (!leans_on_bound(*way.residuals, way.candidate) ||
                                        leans_on_bound(*solution.residuals, solution.candidate));
    if (white[k]) way.misfit = misfit(*way.residuals, way.candidate.full);
  });
  std::size_t best = ways.size();
  for (std::size_t k = 0; k < ways.size(); ++k) {
    if (white[k] && (best == ways.size() || ways[k].misfit < ways[best].misfit)) best = k;
  }
  if (best == ways.size()) return;
  Refined& close = ways[best];
  close.residuals->set_threads(threads);
  close.trials = std::move(solution.trials);
  close.misfit = solution.misfit;
  solution = std::move(close);
}

}  // namespace

Refined finish(const SearchInput& input, const Candidate& chosen, unsigned threads) {
  // From where the search ended, and from there with the usual instrument.
  std::array<Refined, 2> ways;
  in_parallel(ways.size(), threads, [&](std::size_t k) {
    Refined& way = ways[k];
    way.residuals = residuals_on(input, chosen.family, input.whole);
    way.candidate = chosen;
    way.candidate.full = way.residuals->settle(way.candidate.full);
    way.residuals->weigh(way.candidate.full);
    if (k == 1) way.candidate = with_usual_instrument(*way.residuals, way.candidate);
    solve(*way.residuals, way.candidate, {.max_iterations = 20, .function_tolerance = 1e-4});
  });
  const bool anew = ways[1].candidate.usable && ways[1].candidate.cost < ways[0].candidate.cost;
  Refined final = std::move(ways[anew ? 1 : 0]);
  final.residuals->set_threads(threads);
  final.residuals->weigh(final.candidate.full);
  solve(*final.residuals, final.candidate, {.max_iterations = 20, .function_tolerance = 1e-6});
  spend_less_on_allowances(final);
  if (final.residuals->learned().emphasis < blocks_per_observation) solve_closely(input, final, threads);
  return final;
}

void settle_around_lamp(Refined& solution) {
  const std::vector<bool> free = solution.candidate.free;
  for (std::size_t j = 0; j < free.size(); ++j) {
    if (solution.residuals->layout()[j].kind == Unknown::Kind::lamp) solution.candidate.free[j] = false;
  }
  solution.candidate.full = solution.residuals->settle(solution.candidate.full);
  solve(*solution.residuals, solution.candidate, {.max_iterations = 20, .function_tolerance = 1e-6});
  solution.candidate.free = free;
}

double upper_limit_of_held(const SearchInput& input, const Candidate& solution, std::size_t parameter) {
  constexpr int halvings = 6;
  const double objection = 0.5 * 3.84 * blocks_per_observation;  // of the cost: chi-square of one parameter at 95 %
  const SolveOptions quick = {.max_iterations = 8, .function_tolerance = 1e-4, .bound_rounds = 1};
  const auto residuals = residuals_on(input, solution.family, input.scout);
  const Unknown unknown = residuals->layout()[parameter];
  Candidate holds = solution;
  holds.full = residuals->settle(holds.full);
  residuals->weigh(holds.full);
  solve(*residuals, holds, quick);
  const double least = holds.cost;
  double low = unknown.lower;
  double high = unknown.upper;
  for (int n = 0; n < halvings; ++n) {
    Candidate trial = holds;
    trial.full[parameter] = 0.5 * (low + high);
    trial.cost = cost_of(*residuals, trial);  // where nothing objects, none need give way
    if (!(trial.cost < least + objection)) solve(*residuals, trial, quick);
    if (trial.usable && trial.cost < least + objection) {
      low = trial.full[parameter];
      holds = trial;
    } else {
      high = trial.full[parameter];
    }
  }
  return from_coordinate(lamp_families()[solution.family].parameters[parameter], high);
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
