#include "fit/fit.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>
#include <memory>
#include <numbers>
#include <numeric>
#include <set>
#include <thread>
#include <utility>

#include "core/error.h"
#include "core/parallel.h"
#include "core/waveform/capture_kinds.h"
#include "fit/current_shape.h"
#include "fit/estimates.h"
#include "fit/family_search.h"
#include "fit/gate.h"
#include "fit/interval_ends.h"
#include "fit/next_capture.h"
#include "fit/observations.h"
#include "fit/optional_parts.h"
#include "fit/report.h"
#include "fit/start_hints.h"
#include "fit/uncertainty.h"

namespace lampload {
namespace {

/// Makes the drives of all captures, for the starts, for the choice and for the final fit.
void make_drives(SearchInput& input, unsigned threads) {
  const std::array<DriveOptions, 3> options = {{
      whole_record,
      {.coarse_s = 80e-6, .fine_s = 5e-6, .max_duration_s = 0.16, .hold_out = true},
      {.coarse_s = 100e-6, .fine_s = 20e-6, .max_duration_s = 0.08},
  }};
  const std::size_t captures = input.captures.size();
  std::array<std::vector<DrivenCapture>, options.size()> drives;
  for (std::vector<DrivenCapture>& own : drives) own.resize(captures);
  in_parallel(options.size() * captures, threads, [&](std::size_t k) {
    const std::size_t c = k % captures;
    DriveOptions one = options[k / captures];
    one.noise_seed = c + 1;
    drives[k / captures][c] = make_drive(input.captures[c], input.figures[c], one);
  });
  const auto shared = [](std::vector<DrivenCapture>& own) {
    return std::make_shared<const std::vector<DrivenCapture>>(std::move(own));
  };
  input.whole = shared(drives[0]);
  input.judged = shared(drives[1]);
  input.scout = shared(drives[2]);
}

void check_belong_together(std::span<const Capture> captures, std::span<const Figures> figures) {
  if (captures.empty()) throw Error(ErrorCode::input_refused, "a fit needs at least one capture");
  for (std::size_t c = 0; c < captures.size(); ++c) {
    const Place place{.file = captures[c].file};
    for (const QualityNote& note : figures[c].quality) {
      if (note.code == "no_lamp_current" && !figures[c].inrush)
        throw Error(ErrorCode::input_refused, note.message, place);
    }
    const bool dc = !figures[c].mains_frequency_hz;
    const bool first_dc = !figures[0].mains_frequency_hz;
    if (dc != first_dc || (!dc && std::abs(*figures[c].mains_frequency_hz - *figures[0].mains_frequency_hz) > 2.0)) {
      throw Error(ErrorCode::input_refused,
                  dc != first_dc ? fmt::format("it was taken on {}, other captures on {}", dc ? "DC" : "mains",
                                               dc ? "mains" : "DC")
                                 : std::string("its supply frequency is not that of the other captures"),
                  place, "Fit captures of one lamp on one kind of supply together.");
    }
  }
}

/// Measure of a family on cycles it has not seen, in units where differences count like twice a log likelihood.
double criterion(const LampResiduals& residuals, const Candidate& candidate, const LampResiduals::Weights& weights,
                 double blocks_that_say_the_same) {
  LampResiduals::Score score = residuals.score(candidate.full, Use::judged, weights);
  double complexity = 0.0;
  if (score.count == 0) {  // too short to hold cycles out: pay for parameters instead
    score = residuals.score(candidate.full, Use::fitted, weights);
    complexity = 2.0 * static_cast<double>(residuals.free_unknowns().size());
  }
  const double independent = static_cast<double>(score.count) / blocks_that_say_the_same;
  double left = score.sum / static_cast<double>(score.count);
  // Under DC every family meets a level; which of them does so a little further inside the noise says nothing.
  constexpr double well_inside = 0.25;
  // What takes either supply is rarer on DC than what is made for it (common practice, no source).
  constexpr double rarer_on_dc = 10.0;
  const FamilyInfo& family = lamp_families()[candidate.family];
  double rarity = family.rarity;
  if (residuals.drives().front().frequency_hz <= 0.0) {
    left = std::max(left, well_inside);
    if (fed_by_mains(family.feed)) rarity += rarer_on_dc;
  }
  return independent * std::log(left) + complexity + rarity;
}

/// Fitted current at every sample, and what it leaves.
CaptureFit capture_fit(const LampResiduals& residuals, const Candidate& candidate, std::size_t c,
                       const Capture& capture, const Figures& figures) {
  const DrivenCapture drive =
      in_other_blocks(residuals.drives()[c], capture, figures,
                      {.coarse_s = capture.sample_interval_s, .fine_s = capture.sample_interval_s});
  const std::vector<double> shown = residuals.current(candidate.full, c, drive);
  CaptureFit fit;
  fit.file = capture.file;
  for (std::size_t j = 0; j < candidate.full.size(); ++j) {
    const Unknown& unknown = residuals.layout()[j];
    if (unknown.capture != c) continue;
    if (unknown.kind == Unknown::Kind::offset) fit.current_offset_a = candidate.full[j];
    if (unknown.kind == Unknown::Kind::delay) fit.current_delay_s = candidate.full[j] * delay_scale_s;
    if (unknown.kind == Unknown::Kind::state) {
      fit.start_state.push_back(candidate.full[j] *
                                lamp_families()[candidate.family].states[unknown.index].unit_size());
    }
  }
  fit.fitted_current_a.assign(capture.samples(), fit.current_offset_a);
  double square = 0.0;
  double count = 0.0;
  for (std::size_t k = 0; k < drive.blocks(); ++k) {
    const std::size_t sample = drive.first_sample + drive.bounds[k + 1];
    fit.fitted_current_a[sample] = shown[k];
    if (drive.use[k] == Use::left_out) continue;
    const double residual = capture.current_a[sample] - shown[k];
    square += residual * residual;
    count += 1.0;
  }
  fit.residual_rms_a = std::sqrt(square / count);
  return fit;
}

/// A family that needs a parameter at its physical bound, or values that make it behave as another kind of lamp.
bool mimics(LampResiduals& residuals, const Candidate& candidate, const OperatingPoint& at) {
  const FamilyInfo& family = lamp_families()[candidate.family];
  residuals.set_free(candidate.free, candidate.full);
  const std::vector<bool> bound = at_bound(residuals, candidate);
  std::vector<double> values;
  for (std::size_t j = 0; j < family.parameters.size(); ++j) {
    const ParameterSpec& spec = family.parameters[j];
    if (bound[j] && spec.logarithmic && !spec.optional) return true;
    values.push_back(candidate.free[j] ? spec.within(from_coordinate(spec, candidate.full[j])) : spec.absent);
  }
  // The running state that the first capture of a running lamp was fitted with.
  std::vector<double> state;
  for (std::size_t j = 0; j < candidate.full.size(); ++j) {
    const Unknown& unknown = residuals.layout()[j];
    if (unknown.kind != Unknown::Kind::state || residuals.drives()[unknown.capture].from_rest) continue;
    if (state.size() < family.states.size())
      state.push_back(candidate.full[j] * family.states[unknown.index].unit_size());
  }
  return !family.plausible(values, state, at);
}

/// Families whose solutions stand on their own; where none does, those that the captures show, or all usable ones.
std::vector<bool> eligible_families(const std::vector<Refined>& refined, const std::vector<bool>& usable,
                                    const StartHints& hints, const OperatingPoint& at, unsigned threads) {
  std::vector<std::uint8_t> shown(usable.size(), 0);
  std::vector<std::uint8_t> stands(usable.size(), 0);
  in_parallel(usable.size(), threads, [&](std::size_t f) {
    shown[f] = usable[f] && family_shows_itself(f, hints) ? 1 : 0;
    stands[f] = shown[f] != 0 && !mimics(*refined[f].residuals, refined[f].candidate, at) ? 1 : 0;
  });
  for (const std::vector<std::uint8_t>* some : {&stands, &shown}) {
    if (std::find(some->begin(), some->end(), std::uint8_t{1}) != some->end()) return {some->begin(), some->end()};
  }
  return usable;
}

constexpr double as_well = 2.0;  // in the units of the criterion

/// How well a family describes the cycles, how rare it is left aside.
double described(const std::vector<double>& criteria, std::size_t f) { return criteria[f] - lamp_families()[f].rarity; }

/// The likeliest eligible family but `best` that describes the cycles as well, how rare it is left aside; none: their
/// count.
std::size_t as_good_without(std::size_t best, const std::vector<double>& criteria, const std::vector<bool>& eligible) {
  std::size_t next = criteria.size();
  for (std::size_t f = 0; f < criteria.size(); ++f) {
    if (f == best || !eligible[f] || described(criteria, f) > described(criteria, best) + as_well) continue;
    if (next == criteria.size() || criteria[f] < criteria[next]) next = f;
  }
  return next;
}

/// Whether such a lamp may look like a resistance in captures of these kinds.
bool may_hide(const FamilyInfo& family, const std::set<std::string_view>& taken) {
  return !family.plain_until.empty() && !taken.contains(family.plain_until);
}

/// What stands beside the best family: the eligible ones, and what shows nothing of its own in such captures but
/// describes them as well. Values that make a resistance of it are no fault of such a lamp, but put it behind.
struct Standing {
  std::vector<bool> family;
  std::vector<double> criteria;
};

Standing standing_beside(std::size_t best, const std::vector<double>& criteria, const std::vector<bool>& eligible,
                         const std::vector<bool>& usable, const std::set<std::string_view>& taken) {
  Standing standing{eligible, criteria};
  for (std::size_t f = 0; f < criteria.size(); ++f) {
    if (!usable[f] || eligible[f] || !may_hide(lamp_families()[f], taken)) continue;
    const double worse = described(criteria, f) - described(criteria, best);
    if (worse > as_well) continue;
    standing.family[f] = true;
    standing.criteria[f] = criteria[best] + as_well + std::max(0.0, worse);
  }
  return standing;
}

std::vector<Rival> rivals_of(const Standing& standing, std::size_t best) {
  std::vector<Rival> rivals;
  for (std::size_t f = 0; f < standing.family.size(); ++f) {
    if (f == best || !standing.family[f]) continue;
    const FamilyInfo& family = lamp_families()[f];
    rivals.push_back(
        {std::string(family.name), std::string(family.load_law), standing.criteria[f] - standing.criteria[best]});
  }
  std::stable_sort(rivals.begin(), rivals.end(),
                   [](const Rival& a, const Rival& b) { return a.distance < b.distance; });
  return rivals;
}

/// The nearest rival of another family, where it is near and may show itself in a capture still to come; null: none.
const FamilyInfo* looks_the_same(const FitResult& fit, const std::set<std::string_view>& taken) {
  constexpr double near = 10.0;  // beyond: very strong (Kass and Raftery, JASA 90 (1995) 773; from memory)
  for (const Rival& rival : fit.rivals) {
    const FamilyInfo& family = find_family(rival.family, rival.load_law);
    if (rival.distance < near && rival.family != fit.family && may_hide(family, taken)) return &family;
  }
  return nullptr;
}

/// How sure a solution is, parameters at a bound held and not.
struct Known {
  std::vector<bool> bound;
  Uncertainty loose;
  Uncertainty sure;
};

/// Leaves the residuals with those at a bound held.
Known known_of(Refined& solution, const UncertaintyOptions& options) {
  LampResiduals& residuals = *solution.residuals;
  Known known;
  known.bound = at_bound(residuals, solution.candidate);
  known.loose = uncertainty_at(residuals, solution.candidate.full, options);
  std::vector<bool> free = solution.candidate.free;
  // Only the lamp's own parameters are held at a bound; a start state or a delay there is no knowledge.
  const std::size_t parameters = lamp_families()[solution.candidate.family].parameters.size();
  for (std::size_t j = 0; j < parameters; ++j) free[j] = free[j] && !known.bound[j];
  const std::vector<std::size_t> loose = residuals.free_unknowns();
  residuals.set_free(free, solution.candidate.full);
  known.sure =
      residuals.free_unknowns() == loose ? known.loose : uncertainty_at(residuals, solution.candidate.full, options);
  return known;
}

LampKnowledge lamp_knowledge(const Candidate& candidate, const Known& known) {
  const auto parameters = static_cast<std::ptrdiff_t>(lamp_families()[candidate.family].parameters.size());
  return {{candidate.full.begin(), candidate.full.begin() + parameters},
          {candidate.free.begin(), candidate.free.begin() + parameters},
          known.sure.covariance};
}

/// How far a family's solution and the DC table lie apart, in the units of the criterion.
double table_disagreement(Refined& solution, const Nominal& nominal, const Figures& open, const OperatingPoint& at,
                          const UncertaintyOptions& scale_errors) {
  Nominal table;
  table.dc_points = nominal.dc_points;
  const FamilyInfo& family = lamp_families()[solution.candidate.family];
  const std::vector<OutsideKnowledge> knowledge = outside_knowledge(family, table, open, at);
  if (knowledge.empty()) return 0.0;
  return disagreement(knowledge, family, lamp_knowledge(solution.candidate, known_of(solution, scale_errors)));
}

}  // namespace

OperatingPoint operating_point(const Figures& open, const Nominal& nominal) {
  OperatingPoint at;
  at.voltage_v = nominal.voltage_v.value_or(open.direct ? open.direct->on_voltage_v : open.voltage_rms_v);
  at.frequency_hz = open.mains_frequency_hz.value_or(0.0);
  at.current_a = open.direct ? open.direct->on_current_a : 0.0;
  return at;
}

FitResult fit_lamp(std::span<const Capture> captures, std::span<const Figures> figures, const FitOptions& options) {
  check_belong_together(captures, figures);
  const unsigned threads = options.threads != 0 ? options.threads : std::max(1U, std::thread::hardware_concurrency());
  const auto report = [&](double from, double to) {
    return [&options, from, to](double share) {
      if (options.progress) options.progress(from + (to - from) * share);
    };
  };

  SearchInput input;
  input.captures = captures;
  input.figures = figures;
  make_drives(input, threads);
  input.hints = start_hints(captures, figures, options.nominal);
  input.nominal = options.nominal;
  input.seed = options.seed;

  const std::size_t families = lamp_families().size();
  const auto asked_for = [&](std::size_t f) {
    return options.families.empty() ||
           std::find(options.families.begin(), options.families.end(), f) != options.families.end();
  };
  std::vector<std::vector<Candidate>> starts(families);
  in_parallel(
      families, threads,
      [&](std::size_t f) {
        if (asked_for(f)) starts[f] = promising_starts(input, f);
      },
      report(0.0, 0.1));

  // Every start of every family is one piece of work.
  std::vector<Candidate> scouted;
  for (const std::vector<Candidate>& own : starts) scouted.insert(scouted.end(), own.begin(), own.end());
  in_parallel(
      scouted.size(), threads, [&](std::size_t k) { scouted[k] = run_start(input, scouted[k]); }, report(0.1, 0.4));

  // A family that is hopeless on the scout drives is not worth refining: it stays a distant rival.
  constexpr double hopeless = 2000.0;  // in twice the log likelihood
  double likeliest = std::numeric_limits<double>::infinity();
  for (const Candidate& one : scouted) {
    if (one.usable) likeliest = std::min(likeliest, one.cost);
  }
  std::vector<Refined> refined(families);
  std::vector<std::size_t> longest_first(families);
  std::iota(longest_first.begin(), longest_first.end(), std::size_t{0});
  std::stable_sort(longest_first.begin(), longest_first.end(), [](std::size_t a, std::size_t b) {
    return lamp_families()[a].parameters.size() > lamp_families()[b].parameters.size();
  });
  in_parallel(
      families, threads,
      [&](std::size_t k) {
        const std::size_t f = longest_first[k];
        std::vector<Candidate> own;
        for (const Candidate& one : scouted) {
          if (one.family == f) own.push_back(one);
        }
        if (!own.empty()) refined[f] = refine(input, f, std::move(own), likeliest + hopeless);
      },
      report(0.4, 0.8));

  // The likeliest family on the cycles it was fitted to lends its weights and its residuals' correlation to the
  // comparison.
  std::vector<bool> usable(families);
  for (std::size_t f = 0; f < families; ++f) usable[f] = refined[f].residuals && refined[f].candidate.usable;
  const auto likeliest_of = [&] {
    std::size_t best = families;
    for (std::size_t f = 0; f < families; ++f) {
      if (usable[f] && (best == families || refined[f].misfit < refined[best].misfit)) best = f;
    }
    return best;
  };
  std::size_t nearest = likeliest_of();
  if (nearest == families) {
    throw Error(ErrorCode::calculation, "no start of any lamp family converged", Place{.file = captures[0].file},
                "Look at the capture with 'lampload inspect' first.");
  }
  // Parts that few lamps have are tried on the likeliest family that knows some.
  std::size_t may_have_parts = families;
  for (std::size_t f = 0; f < families; ++f) {
    if (!usable[f] || !knows_parts(lamp_families()[f]) || refined[f].misfit > refined[nearest].misfit + hopeless)
      continue;
    if (may_have_parts == families || refined[f].misfit < refined[may_have_parts].misfit) may_have_parts = f;
  }
  if (may_have_parts < families) {
    Refined& tried = refined[may_have_parts] = with_optional_parts(std::move(refined[may_have_parts]));
    for (std::size_t f = 0; f < families; ++f) {
      if (f != may_have_parts && usable[f] && lamp_families()[f].name == lamp_families()[may_have_parts].name)
        tell_of_parts(tried, refined[f]);
    }
    nearest = likeliest_of();
  }
  // What one load law has found of the front end serves the others too.
  in_parallel(families, threads,
              [&](std::size_t f) {
                if (f == nearest || !usable[f] || lamp_families()[f].name != lamp_families()[nearest].name) return;
                refined[f] = with_parts_of(input, std::move(refined[f]), refined[nearest]);
              },
              {});
  nearest = likeliest_of();
  const LampResiduals& yardstick = *refined[nearest].residuals;
  const Correlation correlation = correlation_of(refined[nearest]);
  const double repeated = correlation.length * correlation.repetition;
  std::vector<double> criteria(families, 0.0);
  in_parallel(families, threads, [&](std::size_t f) {
    if (usable[f]) criteria[f] = criterion(*refined[f].residuals, refined[f].candidate, yardstick.weights(), repeated);
  });
  const Figures& open = figures[least_cut(figures)];
  const OperatingPoint at = operating_point(open, options.nominal);
  std::vector<bool> eligible = eligible_families(refined, usable, input.hints, at, threads);
  const UncertaintyOptions scale_errors{options.voltage_gain_uncertainty, options.current_gain_uncertainty};
  if (at.frequency_hz <= 0.0 && !options.nominal.dc_points.empty()) {
    // Under DC a table often shows more of the curve than the captures do.
    for (std::size_t f = 0; f < families; ++f) {
      if (eligible[f]) criteria[f] += table_disagreement(refined[f], options.nominal, open, at, scale_errors);
    }
  }
  std::size_t best = families;
  for (std::size_t f = 0; f < families; ++f) {
    if (eligible[f] && (best == families || criteria[f] < criteria[best])) best = f;
  }

  Refined final = finish(input, refined[best].candidate, threads);
  // What mimics another kind of lamp on the whole record alone gives way to a family that describes the cycles as well.
  if (final.candidate.usable && mimics(*final.residuals, final.candidate, at)) {
    const std::size_t next = as_good_without(best, criteria, eligible);
    if (next < families) {
      Refined other = finish(input, refined[next].candidate, threads);
      if (other.candidate.usable && !mimics(*other.residuals, other.candidate, at)) {
        eligible[best] = false;
        best = next;
        final = std::move(other);
      }
    }
  }
  if (!final.candidate.usable) {
    throw Error(ErrorCode::calculation,
                fmt::format("the fit of {} broke down on the whole record", lamp_families()[best].name),
                Place{.file = captures[0].file});
  }
  if (options.progress) options.progress(0.9);

  const FamilyInfo& family = lamp_families()[best];
  Known known = known_of(final, scale_errors);
  std::vector<IntervalEnds> ends = tried_ends(*final.residuals, final.candidate.full, known.sure);
  FitResult result;
  std::vector<ObservationReport> observations;
  std::vector<OutsideKnowledge> agreeing;
  const LampKnowledge alone = lamp_knowledge(final.candidate, known);
  for (const OutsideKnowledge& one : outside_knowledge(family, options.nominal, open, at)) {
    observations.push_back(compare(one, family, alone));
    if (observations.back().counted) agreeing.push_back(one);
  }
  if (!agreeing.empty()) {
    const LampKnowledge both = combine(agreeing, family, alone);
    std::copy(both.full.begin(), both.full.end(), final.candidate.full.begin());
    settle_around_lamp(final);
    known = known_of(final, scale_errors);
    known.sure.covariance = both.covariance;
    ends.clear();  // they are those of the captures alone
  }
  const std::vector<bool>& bound = known.bound;
  const Uncertainty& loose = known.loose;
  const Uncertainty& sure = known.sure;
  const std::set<std::string_view> taken = capture_kinds(figures);
  const Standing standing = standing_beside(best, criteria, eligible, usable, taken);
  result.report = report_of(final, bound, refined[best].trials);
  result.report.observations = std::move(observations);
  std::vector<FamilyReport> reports =
      family_reports(scouted, refined, {standing.family, standing.criteria, best, likeliest + hopeless},
                     [&](const Candidate& one) { return mimics(*refined[one.family].residuals, one, at); });
  for (std::size_t f = 0; f < families; ++f) {
    if (asked_for(f)) result.report.families.push_back(std::move(reports[f]));
  }

  result.family = family.name;
  result.load_law = family.load_law;
  result.seed = options.seed;
  result.covariance = sure.covariance;
  result.shared_covariance = sure.shared;
  result.at = at;
  result.residual_autocorrelation = sure.autocorrelation;
  std::vector<double> limits(family.parameters.size(), 0.0);
  in_parallel(
      limits.size(), threads,
      [&](std::size_t j) {
        const ParameterSpec& spec = family.parameters[j];
        const bool held_at_zero =
            !final.candidate.free[j] && spec.logarithmic && spec.absent == 0.0 && spec.part.empty();
        if (held_at_zero) limits[j] = upper_limit_of_held(input, final.candidate, j);
      },
      report(0.9, 1.0));
  std::vector<double> prior_sd;
  for (std::size_t j = 0; j < limits.size(); ++j) prior_sd.push_back(final.residuals->layout()[j].prior_sd);
  result.parameters = parameter_estimates(family, final.candidate.full, final.candidate.free, bound, sure.covariance,
                                          loose.covariance, limits, ends, prior_sd);
  result.derived = derived_estimates(family, final.candidate.full, final.candidate.free, sure.covariance, at);

  std::vector<Remainder> left_over(captures.size());
  result.captures.resize(captures.size());
  in_parallel(captures.size(), threads, [&](std::size_t c) {
    result.captures[c] = capture_fit(*final.residuals, final.candidate, c, captures[c], figures[c]);
    left_over[c] = {final.residuals->left_of(final.candidate.full, c),
                    current_shape(captures[c], figures[c], result.captures[c])};
    result.captures[c].unexplained_share = unexplained_share(left_over[c].left);
    result.captures[c].quiet_power_share = left_over[c].shape.quiet_power_share;
  });
  double square = 0.0;
  for (std::size_t c = 0; c < captures.size(); ++c) {
    add_capture(result.report, *final.residuals, c, result.captures[c]);
    square += result.captures[c].residual_rms_a * result.captures[c].residual_rms_a;
  }
  result.residual_rms_a = std::sqrt(square / static_cast<double>(captures.size()));
  const LampResiduals::Score score =
      final.residuals->score(final.candidate.full, Use::fitted, final.residuals->weights());
  result.normalised_residual = std::sqrt(score.sum / static_cast<double>(score.count));
  const std::size_t bandwidth = family.parameters.size();
  if (!bound[bandwidth]) {
    result.bandwidth_hz = 1.0 / (2.0 * std::numbers::pi * std::exp(final.candidate.full[bandwidth]));
  }
  result.report.bandwidth_hz = result.bandwidth_hz;
  const GateVerdict verdict = judge(family, result.parameters, bound, left_over, sure.autocorrelation);
  result.accepted = verdict.accepted;
  result.verdict = verdict.sentence;
  for (const ObservationReport& one : result.report.observations) {
    if (!one.counted) result.verdict += "; " + one.sentence;
  }
  result.rivals = rivals_of(standing, best);
  if (result.accepted && at.frequency_hz > 0.0 && options.advise_next_capture) {
    result.next_capture = next_capture(values_of_captures(*final.residuals, final.candidate, sure,
                                                          evidence("", result, figures, options.nominal), captures, at,
                                                          scale_errors, threads));
    const FamilyInfo* other = looks_the_same(result, taken);
    if (other != nullptr && !result.next_capture.advised)
      result.next_capture = to_tell_from(*other, std::move(result.next_capture));
  }
  if (options.progress) options.progress(1.0);
  return result;
}

}  // namespace lampload
