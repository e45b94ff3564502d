// What is told of the sample captures, whose truth is in sample_captures/truth.json.

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <set>
#include <string>
#include <utility>

#include "core/capture/read.h"
#include "core/waveform/figures.h"
#include "tests/places.h"

namespace lampload::waveform_samples_test {
namespace {

TEST(QualityNotes, OnTheSampleCapturesOnlyWhatIsTrue) {
  const std::filesystem::path folder = std::filesystem::path(test::source_folder()) / "sample_captures";
  // An 8-bit range for the surge; a reversed clamp on purpose; long turn-ons of which little is left.
  const std::map<std::string, std::set<std::string>> expected = {
      {"simulated_clubroom_pendant_60w/turn_on.csv", {"no_header", "current_resolution"}},
      {"simulated_guest_house_led_9w/turn_on.csv", {"current_resolution"}},
      {"simulated_guest_house_led_9w/leading_95deg.txt", {"current_resolution"}},
      {"simulated_guest_house_led_9w/trailing_95deg.csv", {"no_header"}},
      {"simulated_stair_candle_28w/turn_on.csv", {"current_resolution"}},
      {"simulated_stair_candle_led_5w/turn_on.csv", {"current_resolution", "too_few_cycles"}},
      {"simulated_workshop_batten_led_12w/trailing_90deg_reversed.csv", {"reversed_clamp"}},
      {"simulated_workshop_batten_led_12w/turn_on.csv", {"current_resolution", "current_offset", "too_few_cycles"}},
  };
  std::size_t seen = 0;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
    const std::string name = std::filesystem::relative(entry.path(), folder).string();
    const std::string kind = entry.path().extension().string();
    if (!name.starts_with("simulated_") || (kind != ".csv" && kind != ".txt")) continue;
    ++seen;
    std::set<std::string> found;
    for (const QualityNote& one : measure(read_capture(entry.path().string())).quality) found.insert(one.code);
    const auto wanted = expected.find(name);
    EXPECT_EQ(found, wanted == expected.end() ? std::set<std::string>{} : wanted->second) << name;
  }
  EXPECT_EQ(seen, 23U);
}

bool told(const Figures& figures, const std::string& code) {
  return std::any_of(figures.quality.begin(), figures.quality.end(),
                     [&](const QualityNote& note) { return note.code == code; });
}

// Captures by ngspice; what they show is in sample_captures/truth.json.
TEST(SampleCaptures, AProbeFactorLeftOutIsToldWhateverTheNominalVoltage) {
  const std::pair<const char*, double> edges[] = {{"simulated_clubroom_pendant_60w/leading_90deg.csv", 90.0},
                                                  {"simulated_stair_candle_led_5w/leading_100deg.csv", 100.0},
                                                  {"simulated_workshop_batten_led_12w/leading_90deg.csv", 90.0}};
  Nominal nominal;
  nominal.voltage_v = 230.0;
  for (const auto& [file, degrees] : edges) {
    for (const double factor : {0.01, 0.1, 1.0, 10.0}) {
      CaptureOptions options;
      options.voltage_scale = factor;
      const Figures figures = measure(read_capture(test::samples_folder() + file, options), nominal);
      EXPECT_EQ(figures.cut.edge, Edge::leading) << file << factor;
      EXPECT_NEAR(figures.cut.conduction_angle_deg, degrees, 1.0) << file << factor;
      EXPECT_EQ(told(figures, "voltage_implausible"), factor != 1.0) << file << factor;
    }
  }
}

TEST(SampleCaptures, MainsOfAnotherCountryThanSaidAreReadAllTheSame) {
  Nominal nominal;
  nominal.frequency_hz = 50.0;
  for (const char* file : {"steady.csv", "turn_on.csv", "leading_95deg.txt", "trailing_95deg.csv"}) {
    const Capture capture = read_capture(test::samples_folder() + "simulated_guest_house_led_9w/" + file);
    const Figures figures = measure(capture, nominal);
    EXPECT_NEAR(*figures.mains_frequency_hz, 60.0, 0.01) << file;
    EXPECT_TRUE(told(figures, "mains_frequency")) << file;
    EXPECT_EQ(figures.cut.conduction_angle_deg, measure(capture, {}).cut.conduction_angle_deg) << file;
  }
}

}  // namespace
}  // namespace lampload::waveform_samples_test
