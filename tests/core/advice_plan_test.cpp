// The decisions of a plan, with a judge whose answers are known beforehand.

#include "core/advice/plan.h"

#include <gtest/gtest.h>

#include <functional>

#include "core/error.h"

namespace lampload::advice_plan_test {
namespace {

LoadItem lamps(const std::string& name, int count) {
  LoadItem item;
  item.evidence.name = name;
  item.evidence.lamp = Lamp(find_family("resistor", ""), {500.0});
  item.count = count;
  return item;
}

int total(std::span<const LoadItem> load) {
  int sum = 0;
  for (const LoadItem& item : load) sum += item.count;
  return sum;
}

CheckedConstraint constraint(const std::string& name, double value, double limit, bool minimum = false) {
  CheckedConstraint one;
  one.name = name;
  one.value = one.nominal_value = value;
  one.limit = limit;
  one.unit = "A";
  one.minimum = minimum;
  one.holds = minimum ? value >= limit : value <= limit;
  one.holds_nominal = one.holds;
  return one;
}

LoadCheck check_with(Mode mode, std::vector<CheckedConstraint> constraints) {
  LoadCheck check;
  check.mode = mode;
  for (const CheckedConstraint& one : constraints) check.holds = check.holds && one.holds;
  check.constraints = std::move(constraints);
  return check;
}

/// One ampere a lamp against so many amperes in each mode.
LoadJudge rating(double leading_a, double trailing_a, double on_off_a) {
  return [=](std::span<const LoadItem> load, const Channel&, Mode mode) {
    const double limit = mode == Mode::leading_edge ? leading_a : mode == Mode::trailing_edge ? trailing_a : on_off_a;
    return check_with(mode, {constraint("continuous_current", total(load), limit)});
  };
}

Channel dimmer() {
  Channel channel;
  channel.name = "clubroom";
  channel.output.edges = {Edge::leading, Edge::trailing};
  return channel;
}

Installation one_channel(std::vector<LoadItem> load, std::optional<Mode> mode = std::nullopt) {
  Installation plan;
  plan.name = "boathouse";
  PlannedChannel& channel = plan.channels.emplace_back();
  channel.room = "clubroom";
  channel.channel = dimmer();
  channel.mode = mode;
  channel.lamps = std::move(load);
  return plan;
}

std::vector<std::string> sentences(const ChannelVerdict& verdict) {
  std::vector<std::string> list;
  for (const Remedy& remedy : verdict.remedies) list.push_back(remedy_name(remedy.kind) + ": " + remedy.sentence);
  return list;
}

using Sentences = std::vector<std::string>;

TEST(Plan, TheModeWithMostMarginIsChosen) {
  const auto chosen = [](double leading_a, double trailing_a, double on_off_a) {
    return judge_plan(one_channel({lamps("pendant", 4)}), rating(leading_a, trailing_a, on_off_a))
        .channels[0]
        .check.mode;
  };
  EXPECT_EQ(chosen(5.0, 8.0, 20.0), Mode::trailing_edge);
  EXPECT_EQ(chosen(8.0, 5.0, 20.0), Mode::leading_edge);
  EXPECT_EQ(chosen(8.0, 8.0, 20.0), Mode::leading_edge) << "alike: in the order of the channel's edges";
  EXPECT_EQ(chosen(3.0, 4.0, 20.0), Mode::trailing_edge) << "at its limit it still dims";
  EXPECT_EQ(chosen(3.0, 2.0, 20.0), Mode::on_off);
  EXPECT_EQ(chosen(3.0, 2.0, 2.0), Mode::leading_edge) << "none holds: the one that misses least";
}

TEST(Plan, AStatedModeIsKeptAndAnotherSuggested) {
  const PlanVerdict verdict = judge_plan(one_channel({lamps("pendant", 4)}, Mode::leading_edge), rating(3.0, 5.0, 8.0));
  EXPECT_FALSE(verdict.holds);
  const ChannelVerdict& channel = verdict.channels[0];
  EXPECT_EQ(channel.check.mode, Mode::leading_edge);
  EXPECT_FALSE(channel.mode_chosen);
  EXPECT_EQ(sentences(channel), (Sentences{"another_mode: mode trailing_edge holds", "another_mode: mode on_off holds",
                                           "split: split over 2 such channels it holds: at most 2 x pendant on each",
                                           "fewer_lamps: 3 x pendant instead of 4 holds"}));
}

TEST(Plan, AMixedLoadIsSplitEvenlyAndThinnedTypeByType) {
  const PlanVerdict verdict = judge_plan(one_channel({lamps("pendant", 5), lamps("candle", 3)}), rating(4.0, 4.0, 4.0));
  EXPECT_EQ(sentences(verdict.channels[0]),
            (Sentences{"split: split over 2 such channels it holds: at most 3 x pendant, 1 x candle on each",
                       "fewer_lamps: 1 x pendant instead of 5 holds"}))
      << "five pendants alone are too many already";
  const PlanVerdict two = judge_plan(one_channel({lamps("pendant", 5), lamps("candle", 3)}), rating(5.0, 5.0, 5.0));
  EXPECT_EQ(two.channels[0].remedies.back().sentence, "without candle it holds");
}

TEST(Plan, ASplitGoesAsFarAsFourChannels) {
  EXPECT_EQ(judge_plan(one_channel({lamps("pendant", 7)}), rating(2.0, 1.0, 1.0)).channels[0].remedies[0].sentence,
            "split over 4 such channels it holds: at most 2 x pendant on each");
  const PlanVerdict much = judge_plan(one_channel({lamps("pendant", 9)}), rating(2.0, 1.0, 1.0));
  EXPECT_EQ(sentences(much.channels[0]), (Sentences{"fewer_lamps: 2 x pendant instead of 9 holds"}));
}

TEST(Plan, TheZeroCrossingIsTriedWhereATurnOnFails) {
  const LoadJudge surge = [](std::span<const LoadItem> load, const Channel& channel, Mode mode) {
    const double each = channel.output.zero_cross_turn_on.value_or(false) ? 1.0 : 10.0;
    return check_with(mode, {constraint("surge_peak", each * total(load), 20.0)});
  };
  Installation plan = one_channel({lamps("batten", 6)}, Mode::on_off);
  plan.channels[0].channel.output.kind = OutputKind::relay;
  plan.channels[0].channel.output.switch_kind = SwitchKind::relay;
  plan.channels[0].channel.output.edges.clear();
  EXPECT_EQ(sentences(judge_plan(plan, surge).channels[0]),
            (Sentences{"zero_cross_turn_on: an output that turns on at the zero crossing holds",
                       "split: split over 3 such channels it holds: at most 2 x batten on each",
                       "fewer_lamps: 2 x batten instead of 6 holds"}));
}

TEST(Plan, AMinimumThatFailsAsksForMoreLamps) {
  const LoadJudge holding = [](std::span<const LoadItem> load, const Channel&, Mode mode) {
    return check_with(mode, {constraint("minimum_load", 0.01 * total(load), 0.035, true)});
  };
  const PlanVerdict verdict = judge_plan(one_channel({lamps("candle", 1)}, Mode::leading_edge), holding);
  EXPECT_EQ(sentences(verdict.channels[0]), (Sentences{"more_lamps: 4 x candle instead of 1 holds"}));
  const LoadJudge hopeless = [](std::span<const LoadItem> load, const Channel&, Mode mode) {
    return check_with(mode, {constraint("minimum_load", 0.001 * total(load), 0.035, true)});
  };
  EXPECT_TRUE(judge_plan(one_channel({lamps("candle", 1)}, Mode::leading_edge), hopeless).channels[0].remedies.empty());
}

TEST(Plan, AModeThatTheOutputCannotDoIsRefused) {
  try {
    judge_plan(one_channel({lamps("pendant", 1)}, Mode::dc_pwm), rating(9.0, 9.0, 9.0));
    FAIL();
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::input_refused);
    EXPECT_EQ(error.message(),
              "channel 'clubroom' is planned in mode dc_pwm, and its output does leading_edge, trailing_edge, on_off");
  }
}

TEST(Plan, ChannelsOfOneBreakerHaveOneSupply) {
  Installation plan = one_channel({lamps("pendant", 1)});
  plan.breakers.push_back({"board", "F1", Breaker{'B', 10.0}, 0.0});
  plan.channels.push_back(plan.channels[0]);
  plan.channels[0].breaker = plan.channels[1].breaker = 0;
  plan.channels[1].channel.name = "guest room";
  plan.channels[1].channel.supply.voltage_v = 120.0;
  try {
    judge_plan(plan, rating(9.0, 9.0, 9.0));
    FAIL();
  } catch (const Error& error) {
    EXPECT_EQ(error.message(),
              "channels 'clubroom' (230 V, 50 Hz) and 'guest room' (120 V, 50 Hz) are on one breaker, 'F1'");
  }
}

TEST(Plan, AFaultOfOneChannelIsThatOfThePlan) {
  const LoadJudge faulty = [](std::span<const LoadItem> load, const Channel&, Mode mode) -> LoadCheck {
    if (load.front().evidence.name == "candle") throw Error(ErrorCode::calculation, "no step can be solved");
    return check_with(mode, {constraint("continuous_current", 1.0, 2.0)});
  };
  Installation plan = one_channel({lamps("pendant", 1)});
  plan.channels.push_back(one_channel({lamps("candle", 1)}).channels[0]);
  EXPECT_THROW(judge_plan(plan, faulty), Error);
}

TEST(Plan, ABreakerThatDoesNotHoldFailsThePlan) {
  Installation plan = one_channel({lamps("pendant", 1)});
  plan.breakers = {{"board", "F1", Breaker{'B', 10.0}, 0.0}, {"board", "F2", Breaker{'B', 10.0}, 0.0}};
  plan.channels[0].breaker = 1;
  const auto with_rms = [](double rms_a) -> LoadJudge {
    return [=](std::span<const LoadItem>, const Channel&, Mode mode) {
      LoadCheck check = check_with(mode, {});
      check.worst.rms_a = rms_a;
      return check;
    };
  };
  EXPECT_TRUE(judge_plan(plan, with_rms(9.0)).holds);
  const PlanVerdict verdict = judge_plan(plan, with_rms(11.0));
  EXPECT_FALSE(verdict.holds);
  EXPECT_TRUE(verdict.channels[0].check.holds);
  ASSERT_EQ(verdict.breakers.size(), 1U) << "a breaker that feeds nothing is not judged";
  EXPECT_EQ(verdict.breakers[0].name, "F2");
}

}  // namespace
}  // namespace lampload::advice_plan_test
