#include "core/advice/shared_breaker.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/advice/start_envelope.h"
#include "core/standards/breaker.h"

namespace lampload {
namespace {

constexpr int followed_half_cycles = 60;  // filaments have settled by then

/// With all margins and with central values.
struct Envelopes {
  std::vector<double> worst;
  std::vector<double> nominal;
};

std::vector<double> scaled(std::vector<double> envelope, double first) {
  const double factor = !envelope.empty() && envelope.front() > 0.0 ? first / envelope.front() : 0.0;
  for (double& value : envelope) value *= factor;
  return envelope;
}

/// Central lamps give the shape; the check of the channel says how high it begins. Nobody knows how fast the inrush of
/// a lamp without a circuit falls: it is taken as if it did not.
Envelopes envelopes_of(const CheckedChannel& channel) {
  const LoadCheck& check = *channel.check;
  std::vector<LampGroup> lamps;
  bool complete = true;
  for (const LoadItem& item : channel.planned->lamps) {
    if (item.evidence.lamp) {
      lamps.push_back({*item.evidence.lamp, item.count});
    } else {
      complete = false;
    }
  }
  std::vector<double> shape{1.0};
  if (complete && !lamps.empty() && check.worst.inrush.peak_a > 0.0) {
    const Channel& place = channel.planned->channel;
    shape = start_envelope(path_of(place, place.supply.voltage_v), lamps, check.nominal.inrush.phase_deg,
                           followed_half_cycles);
  }
  return {scaled(shape, check.worst.inrush.peak_a), scaled(shape, check.nominal.inrush.peak_a)};
}

std::string channels_in_words(const std::vector<std::string>& names) {
  return fmt::format("{} channel{}", names.size(), names.size() == 1 ? "" : "s");
}

CheckedConstraint constraint(std::string name, std::string source, double limit_a) {
  CheckedConstraint made;
  made.name = std::move(name);
  made.unit = std::string("A");
  made.source = std::move(source);
  made.limit = limit_a;
  return made;
}

CheckedConstraint load_of(const PlannedBreaker& breaker, std::span<const CheckedChannel> channels) {
  CheckedConstraint load =
      constraint("breaker_load", "rated current of the breaker, IEC 60898-1", breaker.breaker.rating_a);
  for (const CheckedChannel& channel : channels) {
    load.value += channel.check->worst.rms_a;
    load.nominal_value += channel.check->nominal.rms_a;
  }
  load.holds = load.value <= load.limit;
  load.holds_nominal = load.nominal_value <= load.limit;
  load.sentence = fmt::format(
      "rms currents of {} channel{} come to {:.3g} A ({:.3g} A with central values); at most "
      "{:.3g} A is allowed",
      channels.size(), channels.size() == 1 ? "" : "s", load.value, load.nominal_value, load.limit);
  return load;
}

std::vector<std::vector<double>> picked(const std::vector<Envelopes>& all, const std::vector<std::size_t>& which,
                                        std::vector<double> Envelopes::*margin) {
  std::vector<std::vector<double>> list;
  for (const std::size_t i : which) list.push_back(all[i].*margin);
  return list;
}

/// The last values of all but these.
double running_a(const std::vector<Envelopes>& all, const std::vector<std::size_t>& starting,
                 std::vector<double> Envelopes::*margin) {
  double sum = 0.0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const bool starts = std::find(starting.begin(), starting.end(), i) != starting.end();
    if (!starts && !(all[i].*margin).empty()) sum += (all[i].*margin).back();
  }
  return sum;
}

/// Fewest half cycles between two starts with which the limit holds, from 1; 0: none does.
int least_apart(std::span<const std::vector<double>> envelopes, double others_a, double limit_a) {
  for (int apart = 1; apart <= followed_half_cycles; ++apart) {
    if (highest_sum(envelopes, apart) + others_a <= limit_a) return apart;
  }
  return 0;
}

StartVerdict judge_start(const PlannedBreaker& breaker, std::span<const CheckedChannel> channels,
                         const std::vector<Envelopes>& envelopes, const std::vector<std::size_t>& group) {
  const double half_s = 0.5 / channels[group.front()].planned->channel.supply.frequency_hz;
  const int planned_apart = static_cast<int>(breaker.stagger_s / half_s * (1.0 + 1e-9));
  const auto worst = picked(envelopes, group, &Envelopes::worst);
  const auto nominal = picked(envelopes, group, &Envelopes::nominal);
  const double others_a = running_a(envelopes, group, &Envelopes::worst);

  StartVerdict verdict;
  for (const std::size_t i : group) verdict.channels.push_back(channels[i].planned->channel.name);
  verdict.stagger_s = breaker.stagger_s;
  verdict.together_a = highest_sum(worst, 0) + others_a;

  CheckedConstraint& inrush = verdict.inrush;
  inrush =
      constraint("breaker_trip", "IEC 60898-1, lower end of the instantaneous band, rms to peak, short-pulse factor 1",
                 no_trip_peak_a(breaker.breaker.curve, breaker.breaker.rating_a));
  inrush.value = highest_sum(worst, planned_apart) + others_a;
  inrush.nominal_value = highest_sum(nominal, planned_apart) + running_a(envelopes, group, &Envelopes::nominal);
  inrush.holds = inrush.value <= inrush.limit;
  inrush.holds_nominal = inrush.nominal_value <= inrush.limit;

  if (verdict.together_a <= inrush.limit) {
    verdict.least_stagger_s = 0.0;
  } else if (const int apart = least_apart(worst, others_a, inrush.limit); apart > 0 && group.size() > 1) {
    verdict.least_stagger_s = apart * half_s;
  }
  const std::string how = group.size() == 1    ? fmt::format("{} starts", verdict.channels.front())
                          : planned_apart == 0 ? fmt::format("{} start together", channels_in_words(verdict.channels))
                                               : fmt::format("{} start {:g} s apart",
                                                             channels_in_words(verdict.channels), breaker.stagger_s);
  inrush.sentence =
      fmt::format("{}: {:.3g} A ({:.3g} A with central values){}; at most {:.3g} A is allowed", how, inrush.value,
                  inrush.nominal_value, group.size() < envelopes.size() ? ", the others running" : "", inrush.limit);
  return verdict;
}

/// A breaker of a slower curve with which everything may start at once.
std::optional<char> slower_curve(const Breaker& breaker, double peak_a) {
  for (const char curve : {'C', 'D'}) {
    if (curve > breaker.curve && peak_a <= no_trip_peak_a(curve, breaker.rating_a)) return curve;
  }
  return std::nullopt;
}

void suggest(const PlannedBreaker& breaker, const StartVerdict& start, std::vector<std::string>& suggestions) {
  if (start.inrush.holds) return;
  if (start.least_stagger_s) {
    std::string order;
    for (const std::string& name : start.channels) order += fmt::format("{}{}", order.empty() ? "" : ", ", name);
    suggestions.push_back(fmt::format("start the channels at least {:g} s apart, in this order: {}",
                                      std::ceil(*start.least_stagger_s * 1e3 - 1e-6) / 1e3, order));
  }
  if (const std::optional<char> curve = slower_curve(breaker.breaker, start.together_a)) {
    suggestions.push_back(
        fmt::format("a breaker of curve {} at the same rating would bear them at once ({:.3g} A); it asks for a lower "
                    "loop impedance, which local codes decide",
                    *curve, no_trip_peak_a(*curve, breaker.breaker.rating_a)));
  }
  if (!start.least_stagger_s) {
    suggestions.push_back(
        start.channels.size() == 1
            ? fmt::format("move other channels, or lamps of {}, to another breaker", start.channels.front())
            : "no time between the starts is enough; move a channel to another breaker");
  }
}

}  // namespace

BreakerVerdict judge_breaker(const PlannedBreaker& breaker, std::span<const CheckedChannel> channels) {
  BreakerVerdict verdict;
  verdict.board = breaker.board;
  verdict.name = breaker.name;
  verdict.breaker = breaker.breaker;
  std::vector<CheckedChannel> fed;
  for (const CheckedChannel& channel : channels) {
    verdict.channels.push_back(channel.planned->channel.name);
    if (fed_by_mains(channel.planned->channel)) {
      fed.push_back(channel);
    } else {
      verdict.not_checked.push_back(fmt::format("{}: what its DC supply draws from the mains, running and at its start",
                                                verdict.channels.back()));
    }
  }
  verdict.load = load_of(breaker, fed);
  verdict.holds = verdict.load.holds;
  if (!verdict.load.holds) verdict.suggestions.emplace_back("move a channel to another breaker");

  std::vector<Envelopes> envelopes;
  for (const CheckedChannel& channel : fed) envelopes.push_back(envelopes_of(channel));
  std::vector<std::string> judged;
  for (std::size_t i = 0; i < fed.size(); ++i) {
    const std::string& moment = fed[i].planned->starts_with;
    if (std::find(judged.begin(), judged.end(), moment) != judged.end()) continue;
    judged.push_back(moment);
    std::vector<std::size_t> group;
    for (std::size_t j = i; j < fed.size(); ++j) {
      if (fed[j].planned->starts_with == moment) group.push_back(j);
    }
    const StartVerdict& start = verdict.starts.emplace_back(judge_start(breaker, fed, envelopes, group));
    verdict.holds = verdict.holds && start.inrush.holds;
    suggest(breaker, start, verdict.suggestions);
  }
  return verdict;
}

}  // namespace lampload
