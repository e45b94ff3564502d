#include "core/advice/plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <thread>
#include <utility>

#include "core/error.h"
#include "core/parallel.h"

namespace lampload {
namespace {

bool dims(Mode mode) { return mode != Mode::on_off; }

double fullest(const LoadCheck& check) {
  double most = 0.0;
  for (const CheckedConstraint& constraint : check.constraints) most = std::max(most, constraint.use());
  return most;
}

bool better(const LoadCheck& a, const LoadCheck& b) {
  if (a.holds != b.holds) return a.holds;
  if (a.holds && dims(a.mode) != dims(b.mode)) return dims(a.mode);
  constexpr double alike = 1.01;  // what differs by less is the same
  return fullest(a) * alike < fullest(b);
}

std::vector<Mode> modes_there(const PlannedChannel& planned) {
  std::vector<std::string> cautions;
  std::vector<Mode> modes = modes_of(planned.channel, cautions);
  if (!planned.mode || std::find(modes.begin(), modes.end(), *planned.mode) != modes.end()) return modes;
  std::string able;
  for (const Mode mode : modes) able += fmt::format("{}{}", able.empty() ? "" : ", ", mode_name(mode));
  throw Error(ErrorCode::input_refused, fmt::format("channel '{}' is planned in mode {}, and its output does {}",
                                                    planned.channel.name, mode_name(*planned.mode), able));
}

ChannelVerdict judge_channel(const PlannedChannel& planned, const LoadJudge& judge) {
  const std::vector<Mode> modes = modes_there(planned);
  ChannelVerdict verdict;
  verdict.room = planned.room;
  verdict.channel = planned.channel.name;
  verdict.mode_chosen = !planned.mode;
  std::vector<Mode> others;
  if (planned.mode) {
    verdict.check = judge(planned.lamps, planned.channel, *planned.mode);
    for (const Mode mode : modes) {
      if (mode != *planned.mode) others.push_back(mode);
    }
  } else {
    for (std::size_t i = 0; i < modes.size(); ++i) {
      LoadCheck check = judge(planned.lamps, planned.channel, modes[i]);
      if (i == 0 || better(check, verdict.check)) verdict.check = std::move(check);
    }
  }
  if (!verdict.check.holds) {
    verdict.remedies = remedies(planned.lamps, planned.channel, verdict.check, others, judge);
  }
  return verdict;
}

void check_supplies(const Installation& plan) {
  for (std::size_t i = 0; i < plan.channels.size(); ++i) {
    const PlannedChannel& a = plan.channels[i];
    if (!a.breaker || !fed_by_mains(a.channel)) continue;
    for (std::size_t j = i + 1; j < plan.channels.size(); ++j) {
      const PlannedChannel& b = plan.channels[j];
      if (b.breaker != a.breaker || !fed_by_mains(b.channel)) continue;
      if (a.channel.supply.voltage_v == b.channel.supply.voltage_v &&
          a.channel.supply.frequency_hz == b.channel.supply.frequency_hz) {
        continue;
      }
      throw Error(
          ErrorCode::input_refused,
          fmt::format("channels '{}' ({:g} V, {:g} Hz) and '{}' ({:g} V, {:g} Hz) are on one breaker, '{}'",
                      a.channel.name, a.channel.supply.voltage_v, a.channel.supply.frequency_hz, b.channel.name,
                      b.channel.supply.voltage_v, b.channel.supply.frequency_hz, plan.breakers[*a.breaker].name),
          {}, "Say the supply once, at the board");
    }
  }
}

/// Channels side by side, as many at a time as the machine has processors; the answer does not depend on that.
std::vector<ChannelVerdict> judge_channels(const std::vector<PlannedChannel>& planned, const LoadJudge& judge) {
  std::vector<ChannelVerdict> verdicts(planned.size());
  in_parallel(planned.size(), std::thread::hardware_concurrency(),
              [&](std::size_t i) { verdicts[i] = judge_channel(planned[i], judge); });
  return verdicts;
}

}  // namespace

PlanVerdict judge_plan(const Installation& plan, const LoadJudge& judge) {
  check_supplies(plan);
  for (const PlannedChannel& planned : plan.channels) modes_there(planned);  // refused before anything is simulated
  PlanVerdict verdict;
  verdict.channels = judge_channels(plan.channels, judge);
  for (const ChannelVerdict& channel : verdict.channels) verdict.holds = verdict.holds && channel.check.holds;
  for (std::size_t b = 0; b < plan.breakers.size(); ++b) {
    std::vector<CheckedChannel> behind;
    for (std::size_t i = 0; i < plan.channels.size(); ++i) {
      if (plan.channels[i].breaker == b) behind.push_back({&plan.channels[i], &verdict.channels[i].check});
    }
    if (behind.empty()) continue;
    verdict.breakers.push_back(judge_breaker(plan.breakers[b], behind));
    verdict.holds = verdict.holds && verdict.breakers.back().holds;
  }
  return verdict;
}

}  // namespace lampload
