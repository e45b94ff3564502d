// Records put together from closed forms: a resistance behind a dimmer that is switched, turned and switched off.
#include "core/waveform/segments.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "core/capture/read.h"
#include "tests/places.h"

namespace lampload::waveform_segments_test {
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

TEST(Segments, TheLastCycleBeforeRestIsTheTurnOff) {
  Capture capture = record_of({{8, 180.0}, {5, 0.0}});
  // Opened in the middle of a cycle.
  const Capture more = record_of({{1, 180.0}});
  for (std::size_t k = 0; k < 400; ++k) {
    capture.voltage_v[3200 + k] = k < 130 ? more.voltage_v[k] : 0.0;
    capture.current_a[3200 + k] = k < 130 ? more.current_a[k] : 0.0;
  }
  const auto found = segments_of(capture);
  ASSERT_EQ(kinds(found), "running turn_off off");
  EXPECT_NEAR(static_cast<double>(found[1].first), 3200.0, 12.0);
}

TEST(Segments, ARecordIsTakenApartBySettings) {
  const Capture capture = record_of({{3, 0.0}, {20, 150.0}, {2, 100.0}, {9, 60.0}, {4, 0.0}}, 6.0);
  const auto parts = captures_by_setting(capture, measure(capture));
  ASSERT_EQ(parts.size(), 2U);
  const Figures first = measure(parts[0]), second = measure(parts[1]);
  EXPECT_TRUE(first.turn_on);
  EXPECT_NEAR(first.cut.conduction_angle_deg, 150.0, 2.0);
  EXPECT_FALSE(second.turn_on);
  EXPECT_NEAR(second.cut.conduction_angle_deg, 60.0, 2.0);
  EXPECT_NEAR(static_cast<double>(parts[1].samples()), 9.0 * 400.0, 401.0);
  EXPECT_NEAR(parts[1].start_time_s, 25.0 / 50.0, 0.021);
  EXPECT_EQ(parts[1].file, "record (0.5 to 0.68 s)");
  // One setting is left whole, however often it is switched.
  const Capture same = record_of({{6, 120.0}, {4, 0.0}, {6, 120.0}});
  EXPECT_TRUE(captures_by_setting(same, measure(same)).empty());
}

/// Whole cycles of a capture, from a rising zero crossing of the mains.
void append_cycles(const std::string& name, std::size_t cycles, double sign, Capture& record) {
  const Capture capture = read_capture(test::samples_folder() + name);
  const Figures figures = measure(capture);
  const double cycle = capture.sample_rate_hz() / *figures.mains_frequency_hz;
  const auto first =
      figures.steady_first +
      static_cast<std::size_t>(std::lround(cycle * std::fmod(360.0 - figures.steady_phase_deg, 360.0) / 360.0));
  const auto last = first + static_cast<std::size_t>(std::lround(cycle * static_cast<double>(cycles)));
  ASSERT_LE(last, capture.samples()) << name;
  record.sample_interval_s = capture.sample_interval_s;
  for (std::size_t k = first; k < last; ++k) {
    record.voltage_v.push_back(capture.voltage_v[k]);
    record.current_a.push_back(sign * capture.current_a[k]);
  }
}

// Captures of lamps with reservoirs and of a filament that ngspice made, laid end to end.
TEST(Segments, OfRealisticLampsAreFound) {
  struct Lamp {
    const char *steady, *leading, *trailing;
    double leading_deg, trailing_deg;
  };
  for (const Lamp& lamp :
       {Lamp{"simulated_workshop_batten_led_12w/steady.csv", "simulated_workshop_batten_led_12w/leading_90deg.csv",
             "simulated_workshop_batten_led_12w/trailing_90deg_reversed.csv", 90.0, 91.0},
        Lamp{"simulated_stair_candle_led_5w/steady.csv", "simulated_stair_candle_led_5w/leading_100deg.csv",
             "simulated_stair_candle_led_5w/trailing_100deg.csv", 100.0, 101.0},
        Lamp{"simulated_clubroom_pendant_60w/steady.csv", "simulated_clubroom_pendant_60w/leading_90deg.csv",
             "simulated_clubroom_pendant_60w/trailing_90deg.csv", 90.0, 90.0}}) {
    SCOPED_TRACE(lamp.steady);
    Capture record;
    record.file = "record";
    append_cycles(lamp.steady, 4, 1.0, record);
    const std::size_t turned = record.samples();
    append_cycles(lamp.leading, 4, 1.0, record);
    const std::size_t exchanged = record.samples();
    append_cycles(lamp.trailing, 4, 1.0, record);
    const auto found = segments_of(record);
    std::vector<Segment> running;
    for (const Segment& one : found) {
      if (one.kind == Segment::Kind::running) running.push_back(one);
    }
    ASSERT_EQ(running.size(), 3U) << kinds(found);
    const double cycle = 0.02 / record.sample_interval_s;
    EXPECT_EQ(running[0].cut.edge, Edge::none);
    EXPECT_EQ(running[1].cut.edge, Edge::leading);
    EXPECT_EQ(running[2].cut.edge, Edge::trailing);
    EXPECT_NEAR(running[1].cut.conduction_angle_deg, lamp.leading_deg, 3.0);
    EXPECT_NEAR(running[2].cut.conduction_angle_deg, lamp.trailing_deg, 3.0);
    EXPECT_NEAR(static_cast<double>(running[0].last), static_cast<double>(turned), 1.1 * cycle);
    EXPECT_NEAR(static_cast<double>(running[1].last), static_cast<double>(exchanged), 1.1 * cycle);
    EXPECT_EQ(captures_by_setting(record, measure(record)).size(), 3U);
  }
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
}  // namespace lampload::waveform_segments_test
