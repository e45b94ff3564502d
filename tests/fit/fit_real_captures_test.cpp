// Real recordings made by others (see ../shared/real_captures/README.md beside the project, where they are there):
// which family each is, and its power where the recording's own notes give it.

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>

#include "core/capture/read.h"
#include "fit/fit.h"
#include "tests/fit/estimate_checks.h"
#include "tests/places.h"

namespace lampload::fit_real_captures_test {
namespace {

const std::string recordings = test::source_folder() + "/../shared/real_captures/lamps/";

FitResult fit_of(const std::vector<std::string>& files, const CaptureOptions& options) {
  std::vector<Capture> captures;
  std::vector<Figures> figures;
  for (const std::string& file : files) {
    captures.push_back(read_capture(file, options));
    figures.push_back(measure(captures.back()));
  }
  return fit_lamp(captures, figures, test::without_advice());
}

double derived(const FitResult& fit, const std::string& name) {
  for (const Estimate& one : fit.derived) {
    if (one.name == name) return one.value;
  }
  return 0.0;
}

class RealLamps : public testing::Test {
 protected:
  void SetUp() override {
    if (!std::filesystem::exists(recordings)) GTEST_SKIP() << "the real recordings are not beside the project";
  }
};

CaptureOptions volts_by_hundred() {
  CaptureOptions options;
  options.voltage_scale = 100.0;
  return options;
}

TEST_F(RealLamps, TheHalogenIsAFilament) {
  const FitResult steady = fit_of({recordings + "halogen_steady.csv"}, volts_by_hundred());
  EXPECT_TRUE(steady.accepted) << steady.verdict;
  EXPECT_EQ(steady.family, "filament");
  EXPECT_NEAR(derived(steady, "rated_power_w"), 112.6, 0.02 * 112.6);
  // With the turn-on, measured on the supply side of its switch, and the leading edge, on that of its dimmer.
  const FitResult all = fit_of({recordings + "halogen_steady.csv", recordings + "halogen_turn_on.csv",
                                recordings + "halogen_leading_edge_steady.csv"},
                               volts_by_hundred());
  EXPECT_TRUE(all.accepted) << all.verdict;
  EXPECT_EQ(all.family, "filament");
  EXPECT_NEAR(derived(all, "rated_power_w"), 112.6, 0.02 * 112.6);
}

TEST_F(RealLamps, TheHotBulbIsAFilament) {
  const FitResult fit = fit_of({recordings + "bulb_cycle_hot.csv"}, {});
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  EXPECT_EQ(fit.family, "filament");
  // README of the recordings: 39.3 W. One cycle, so within its interval.
  const auto power = std::find_if(fit.derived.begin(), fit.derived.end(),
                                  [](const Estimate& one) { return one.name == "rated_power_w"; });
  EXPECT_LT(power->lower_95, 39.3);
  EXPECT_GT(power->upper_95, 39.3);
  EXPECT_FALSE(fit.parameters.front().identified) << "the cold resistance of a lamp that was never seen cold";
}

TEST_F(RealLamps, TheCompactFluorescentBankIsARectifierWithReservoir) {
  CaptureOptions first_phase;
  first_phase.voltage_column = "AVValue";
  first_phase.current_column = "AIValue";
  const FitResult fit = fit_of({recordings + "compact_fluorescent_bank_steady.txt"}, first_phase);
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  EXPECT_EQ(fit.family, "rectifier_capacitor");
  EXPECT_NEAR(derived(fit, "rated_power_w"), 65.2, 0.05 * 65.2);
}

TEST_F(RealLamps, TheBridgeWithCapacitorIsOne) {
  const Capture capture =
      read_capture(recordings + "bridge_capacitor_voltage.csv+" + recordings + "bridge_capacitor_current.csv", {});
  const Figures figures = measure(capture);
  const FitResult fit = fit_lamp(std::span(&capture, 1), std::span(&figures, 1));
  EXPECT_TRUE(fit.accepted) << fit.verdict;
  EXPECT_EQ(fit.family, "rectifier_capacitor");
  // README of the recordings: 125.2 W, on these flat-topped mains. (The rated power is one on a pure sine.)
  double power_w = 0.0;
  for (std::size_t s = figures.steady_first; s < figures.steady_last; ++s) {
    power_w += capture.voltage_v[s] * (fit.captures[0].fitted_current_a[s] - fit.captures[0].current_offset_a);
  }
  power_w /= static_cast<double>(figures.steady_last - figures.steady_first);
  EXPECT_NEAR(power_w, 125.2, 0.03 * 125.2);
}

TEST_F(RealLamps, TheCapacitorBankIsNoLamp) {
  CaptureOptions first_phase;
  first_phase.voltage_column = "AVValue";
  first_phase.current_column = "AIValue";
  EXPECT_FALSE(fit_of({recordings + "capacitor_bank_control.txt"}, first_phase).accepted);
}

}  // namespace
}  // namespace lampload::fit_real_captures_test
