// How firm an answer is said to be.

#include "core/advice/confidence.h"

#include <gtest/gtest.h>

#include "core/advice/verdict.h"

namespace lampload::advice_confidence_test {
namespace {

Figures captured(Edge edge, bool turn_on) {
  Figures figures;
  figures.active_power_w = 5.0;
  figures.cut.edge = edge;
  if (turn_on) figures.inrush = Inrush{};
  return figures;
}

ChannelEvidence finished(const std::string& channel, Mode mode, bool agrees) {
  return {channel, mode, 12, "2024-03-01T18:00:00Z", agrees, agrees ? "as predicted" : "surge_peak is 31 % above"};
}

std::string level(const LampEvidence& lamp, Mode mode, const Channel& channel = {}) {
  return confidence_of(lamp, mode, channel).level;
}

TEST(Confidence, FollowsTheCaptures) {
  LampEvidence lamp;
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "extrapolated");
  lamp.measured = {captured(Edge::none, false)};
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "extrapolated");
  lamp.measured.push_back(captured(Edge::none, true));
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "interpolated");
  EXPECT_EQ(level(lamp, Mode::on_off), "measured");
  lamp.measured.push_back(captured(Edge::trailing, false));
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "measured");
  EXPECT_EQ(level(lamp, Mode::leading_edge), "interpolated");
  EXPECT_EQ(confidence_of(lamp, Mode::leading_edge, {}).reason,
            "the lamp was captured uncut and at a turn-on, but not behind a leading edge");
}

// A surge that left the instrument's range was higher than it reads.
TEST(MeasuredValue, IsNotTakenFromACrestThatWasCutOff) {
  LampEvidence lamp;
  lamp.measured = {captured(Edge::none, true), captured(Edge::none, true)};
  lamp.measured[0].inrush->peak_a = 9.0;
  lamp.measured[1].inrush->peak_a = 7.0;
  Constraint surge;
  surge.name = "surge_peak";
  EXPECT_EQ(measured_value(lamp, Mode::on_off, surge)->of_one, 9.0);
  lamp.measured[0].quality.push_back({"overload_current", Severity::error, ""});
  EXPECT_EQ(measured_value(lamp, Mode::on_off, surge)->of_one, 7.0);
  lamp.measured[1].quality.push_back({"clipping_current", Severity::error, ""});
  EXPECT_FALSE(measured_value(lamp, Mode::on_off, surge));
}

TEST(Confidence, AFinishedChannelMovesItByAStep) {
  LampEvidence lamp;
  lamp.measured = {captured(Edge::none, true)};
  lamp.compared = {finished("stair dimmer", Mode::trailing_edge, true)};
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "measured");
  EXPECT_EQ(level(lamp, Mode::leading_edge), "interpolated") << "of another mode";
  lamp.compared.push_back(finished("stair dimmer", Mode::trailing_edge, false));
  const Confidence lowered = confidence_of(lamp, Mode::trailing_edge, {});
  EXPECT_EQ(lowered.level, "extrapolated") << "the last of a channel counts";
  ASSERT_EQ(lowered.cautions.size(), 1U);
  EXPECT_EQ(lowered.cautions[0],
            "A finished channel did something else: stair dimmer with 12 lamps, 2024-03-01: surge_peak is 31 % above.");
  lamp.compared.push_back(finished("clubroom dimmer", Mode::trailing_edge, true));
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "extrapolated") << "one that agrees does not outweigh one that does not";
  lamp.compared.push_back(finished("stair dimmer", Mode::trailing_edge, true));
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "measured");
  lamp.measured.clear();
  lamp.compared = {finished("stair dimmer", Mode::trailing_edge, false)};
  EXPECT_EQ(level(lamp, Mode::trailing_edge), "extrapolated") << "there is no step below";
}

}  // namespace
}  // namespace lampload::advice_confidence_test
