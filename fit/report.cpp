#include "fit/report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace lampload {
namespace {

/// Misfit that the coarse records do not object to: chi-square of one parameter at 95 %, blocks counted by their
/// correlation.
constexpr double as_good = 3.84 * blocks_per_observation;
constexpr double same_place = 0.1;  // in a parameter's coordinate: a tenth of its value or of its typical size

bool same_parameters(const FamilyInfo& family, const Candidate& a, const Candidate& b) {
  for (std::size_t j = 0; j < family.parameters.size(); ++j) {
    if (a.free[j] && std::abs(a.full[j] - b.full[j]) > same_place) return false;
  }
  return true;
}

HeldReport left_out(const ParameterSpec& spec, const FreeingTrial& trial) {
  using End = FreeingTrial::End;
  HeldReport report{std::string(spec.name), "", std::nullopt, trial.worth, ""};
  const auto because = [&](const char* reason, std::string why) {
    report.reason = reason;
    report.sentence = fmt::format("{} is held at {:g}: {}", spec.name, spec.absent, why);
  };
  const auto gained = [&] {
    report.gain = trial.gain;
    const double shown = std::abs(trial.gain) < 0.05 ? 0.0 : trial.gain;  // not "-0.0"
    return fmt::format("setting it free gains {:.1f}, and {:g} would pay", shown, trial.worth);
  };
  switch (trial.end) {
    case End::not_tried:
      because("not_tried", "the family was too far behind to try it");
      break;
    case End::not_asked_for:
      because("not_asked_for", "the residuals do not ask for such a part");
      break;
    case End::not_converged:
      because("not_converged", "with it free the solver broke down");
      break;
    case End::vanished:
      because("vanished", "set free, it ran to nothing");
      break;
    case End::leans_on_bound:
      because("leans_on_bound", "set free, it pushed a parameter that the family needs to its bound");
      break;
    case End::does_not_pay:
      because("does_not_pay", gained());
      break;
    case End::enough_freed:
      because("enough_freed", gained() + ", but others helped more, and few are set free");
      break;
    case End::freed:
      because("as_nearest", "the nearest load law of the same front end does without it");
      break;
  }
  return report;
}

/// The starts of one family, in the order tried.
std::vector<StartReport> start_reports(const std::vector<Candidate>& scouted,
                                       const std::function<bool(const Candidate&)>& only_mimics) {
  const auto worse = [](const Candidate& a, const Candidate& b) {
    return a.usable != b.usable ? !a.usable : a.cost > b.cost;
  };
  const auto best = std::max_element(scouted.begin(), scouted.end(), worse);
  std::vector<StartReport> reports;
  for (auto one = scouted.begin(); one != scouted.end(); ++one) {
    StartReport& report = reports.emplace_back();
    if (!one->usable) {
      report.ended = "not_converged";
      continue;
    }
    const FamilyInfo& family = lamp_families()[one->family];
    report.misfit = one->cost;
    if (one == best) {
      report.ended = "best";
    } else if (one->cost > best->cost + as_good) {
      report.ended = "worse_optimum";
    } else {
      report.ended = same_parameters(family, *one, *best) ? "same_optimum" : "as_good_elsewhere";
    }
    report.plausible = !only_mimics(*one);
    for (std::size_t j = 0; j < family.parameters.size(); ++j) {
      const ParameterSpec& spec = family.parameters[j];
      const double value = one->free[j] ? spec.within(from_coordinate(spec, one->full[j])) : spec.absent;
      report.parameters.emplace_back(spec.name, value);
    }
  }
  return reports;
}

/// Parameters at a bound and optional ones left out.
std::vector<HeldReport> held_reports(const Refined& solution, const std::vector<bool>& bound,
                                     const std::vector<FreeingTrial>& trials) {
  const auto& table = lamp_families()[solution.candidate.family].parameters;
  std::vector<HeldReport> reports;
  for (std::size_t j = 0; j < table.size(); ++j) {
    const ParameterSpec& spec = table[j];
    if (!solution.candidate.free[j] && !leads_its_part(table, j)) continue;
    if (!solution.candidate.free[j]) {
      reports.push_back(left_out(spec, trials[j]));
    } else if (bound[j]) {
      const Unknown& unknown = solution.residuals->layout()[j];
      const bool low = solution.candidate.full[j] < 0.5 * (unknown.lower + unknown.upper);
      reports.push_back({std::string(spec.name), low ? "at_lower_bound" : "at_upper_bound", std::nullopt, 0.0,
                         fmt::format("{} is held at {:g} {}, the {} end of what is physical: the captures would "
                                     "take it beyond",
                                     spec.name, low ? spec.lower : spec.upper, spec.unit, low ? "lower" : "upper")});
    }
  }
  return reports;
}

}  // namespace

std::vector<FamilyReport> family_reports(std::span<const Candidate> scouted, std::span<const Refined> refined,
                                         const Choice& choice,
                                         const std::function<bool(const Candidate&)>& only_mimics) {
  std::vector<FamilyReport> reports;
  for (std::size_t f = 0; f < refined.size(); ++f) {
    FamilyReport& report = reports.emplace_back();
    report.family = lamp_families()[f].name;
    report.load_law = lamp_families()[f].load_law;
    std::vector<Candidate> own;
    double least = std::numeric_limits<double>::infinity();
    for (const Candidate& one : scouted) {
      if (one.family != f) continue;
      own.push_back(one);
      if (one.usable) least = std::min(least, one.cost);
    }
    report.starts = start_reports(own, only_mimics);
    if (!refined[f].residuals || !refined[f].candidate.usable) {
      report.outcome = own.empty() ? "ruled_out" : "no_start";
      continue;
    }
    if (f == choice.best) {
      report.outcome = "chosen";
    } else if (!choice.standing[f]) {
      report.outcome = "set_aside";
    } else {
      report.outcome = least > choice.worth_refining ? "not_refined" : "rival";
    }
    if (choice.standing[f]) report.distance = choice.criteria[f] - choice.criteria[choice.best];
  }
  return reports;
}

FitReport report_of(const Refined& final, const std::vector<bool>& bound, const std::vector<FreeingTrial>& trials) {
  const Correlation correlation = correlation_of(final);
  FitReport report;
  report.blocks = final.residuals->origins().size();
  report.unknowns = final.residuals->unknowns();
  for (std::size_t j = 0; j < trials.size(); ++j) report.unknowns += final.candidate.free[j] && bound[j] ? 1U : 0U;
  report.residual_autocorrelation = correlation.lag_one;
  report.correlation_length_blocks = correlation.length;
  report.repetition = correlation.repetition;
  report.held = held_reports(final, bound, trials);
  return report;
}

void add_capture(FitReport& report, const LampResiduals& residuals, std::size_t capture, const CaptureFit& fit) {
  const auto& origins = residuals.origins();
  const auto blocks =
      std::count_if(origins.begin(), origins.end(), [&](const auto& o) { return o.capture == capture; });
  report.captures.push_back(
      {fit.file, static_cast<std::size_t>(blocks), fit.current_offset_a, fit.current_delay_s, fit.residual_rms_a});
}

Correlation correlation_of(const Refined& solution) {
  std::vector<double> left(solution.residuals->count());
  solution.residuals->evaluate(solution.residuals->reduce(solution.candidate.full).data(), left.data(), nullptr);
  return residual_correlation(*solution.residuals, left);
}

}  // namespace lampload
