// Records put together from closed forms: a resistance behind a dimmer that is switched, turned and switched off.
#include "core/waveform/segments.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

namespace lampload {
namespace {

constexpr double rate_hz = 20e3;
constexpr double ohm = 500.0;

/// Cycles at one setting: conduction angle of a leading edge (0: off).
struct Part {
  int cycles;
  double conduction_deg;
};

Capture record_of(const std::vector<Part>& parts, double surge = 1.0) {
  Capture capture;
  capture.file = "record";
  capture.sample_interval_s = 1.0 / rate_hz;
  const auto cycle = static_cast<std::size_t>(rate_hz / 50.0);
  std::size_t at = 0;
  for (const Part& part : parts) {
    for (std::size_t k = 0; k < cycle * static_cast<std::size_t>(part.cycles); ++k, ++at) {
      const double angle = 360.0 * static_cast<double>(at % cycle) / static_cast<double>(cycle);
      const bool conducts = std::fmod(angle, 180.0) >= 180.0 - part.conduction_deg && part.conduction_deg > 0.0;
      const double v = conducts ? 325.0 * std::sin(angle * std::numbers::pi / 180.0) : 0.0;
      // A filament's surge, gone after some cycles.
      const double since = static_cast<double>(k) / static_cast<double>(cycle);
      const double more = &part == &parts[1] ? 1.0 + (surge - 1.0) * std::exp(-since / 1.5) : 1.0;
      capture.voltage_v.push_back(v);
      capture.current_a.push_back(more * v / ohm);
    }
  }
  return capture;
}

std::vector<Segment> segments_of(const Capture& capture) { return find_segments(capture, measure(capture)); }

std::string kinds(const std::vector<Segment>& segments) {
  std::string text;
  for (const Segment& one : segments) text += (text.empty() ? "" : " ") + std::string(segment_name(one.kind));
  return text;
}

TEST(Segments, ASteadyRecordIsOne) {
  const auto found = segments_of(record_of({{10, 180.0}}));
  ASSERT_EQ(kinds(found), "running");
  EXPECT_EQ(found[0].first, 0U);
  EXPECT_EQ(found[0].last, 4000U);
  EXPECT_EQ(found[0].cut.edge, Edge::none);
  EXPECT_NEAR(found[0].current_rms_a, 325.0 / std::numbers::sqrt2 / ohm, 1e-3);
}

TEST(Segments, EachSettingOfADimmerThatIsTurned) {
  const auto found = segments_of(record_of({{8, 150.0}, {6, 120.0}, {7, 60.0}}));
  ASSERT_EQ(kinds(found), "running running running");
  const double angles[] = {150.0, 120.0, 60.0};
  const std::size_t ends[] = {3200, 5600, 8400};
  for (std::size_t k = 0; k < 3; ++k) {
    EXPECT_EQ(found[k].cut.edge, Edge::leading);
    EXPECT_NEAR(found[k].cut.conduction_angle_deg, angles[k], 2.0);
    EXPECT_NEAR(static_cast<double>(found[k].last), static_cast<double>(ends[k]), 2.0);
  }
}

TEST(Segments, SwitchedOnRunningAndOff) {
  const auto found = segments_of(record_of({{3, 0.0}, {14, 180.0}, {4, 0.0}}, 9.0));
  ASSERT_EQ(kinds(found), "off turn_on running off");
  EXPECT_NEAR(static_cast<double>(found[0].last), 1200.0, 2.0);
  // 9 times the current, falling by a factor e in 1.5 cycles: within 5 % of the end after 8 cycles or so.
  EXPECT_GT(found[1].last, 1200U + 5U * 400U);
  EXPECT_LT(found[1].last, 1200U + 11U * 400U);
  EXPECT_NEAR(static_cast<double>(found[2].last), 6800.0, 401.0);
  EXPECT_NEAR(static_cast<double>(found[3].last), 8400.0, 8.0);
}

TEST(Segments, SwitchedOnAgain) {
  const auto found = segments_of(record_of({{6, 180.0}, {4, 0.0}, {6, 180.0}}));
  EXPECT_EQ(kinds(found), "running off turn_on running");
}

TEST(Segments, OfDcThereAreNone) {
  Capture capture = record_of({{10, 180.0}});
  for (std::size_t k = 0; k < capture.samples(); ++k) {
    capture.voltage_v[k] = 24.0 + 0.01 * std::sin(static_cast<double>(k));
    capture.current_a[k] = 1.0;
  }
  EXPECT_TRUE(segments_of(capture).empty());
}

}  // namespace
}  // namespace lampload
