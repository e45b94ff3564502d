// Recordings of real lamps by others, which are not part of the project. Figures: README.md beside them.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include "core/capture/read.h"
#include "core/error.h"
#include "core/waveform/figures.h"
#include "tests/places.h"

namespace lampload::waveform_real_captures_test {
namespace {

const std::filesystem::path kFolder = test::source_folder() + "/../shared/real_captures";

struct Recording {
  std::string file;
  CaptureOptions options = {};
  double volts = 0, amperes = 0, watts = 0, power_factor = 0;  // zero: the README gives none
  double inrush_peak = 0, peak = 0, crest = 0;
  std::set<std::string> notes = {};  // quality codes, all of them: its traps and nothing else
};

CaptureOptions scaled(double volts) {
  CaptureOptions options;
  options.voltage_scale = volts;
  return options;
}

CaptureOptions phase(const char* voltage, const char* current) {
  CaptureOptions options;
  options.voltage_column = voltage;
  options.current_column = current;
  return options;
}

TEST(RealCaptures, GiveTheFiguresKnownOfThem) {
  if (!std::filesystem::exists(kFolder / "lamps")) GTEST_SKIP() << "the real recordings are not here";
  const std::vector<Recording> recordings{
      {.file = "halogen_steady.csv",
       .options = scaled(100),
       .volts = 230.2,
       .amperes = 0.489,
       .watts = 112.6,
       .power_factor = 1.0,
       .notes = {"current_offset"}},
      {.file = "halogen_steady.csv", .amperes = 0.489, .notes = {"current_offset", "voltage_implausible"}},
      {.file = "halogen_turn_on.csv",
       .options = scaled(100),
       .volts = 230.2,
       .amperes = 0.489,
       .watts = 112.6,
       .inrush_peak = 3.96,
       .notes = {"current_offset"}},
      {.file = "halogen_leading_edge_steady.csv",
       .options = scaled(100),
       .volts = 230.3,
       .amperes = 0.414,
       .watts = 70.7,
       .power_factor = 0.743,
       .notes = {"current_offset", "supply_side_voltage"}},
      {.file = "halogen_leading_edge_turn_on.csv",
       .options = scaled(100),
       .volts = 230.3,
       .inrush_peak = 4.19,
       .notes = {"current_offset", "supply_side_voltage"}},
      {.file = "halogen_28w_steady.csv",
       .options = scaled(100),
       .volts = 235.2,
       .amperes = 0.128,
       .watts = 30.0,
       .notes = {"current_offset", "current_resolution"}},
      {.file = "compact_fluorescent_bank_turn_on.txt",
       .options = phase("CVValue", "CIValue"),
       .inrush_peak = 61.0,
       .notes = {"rows_skipped", "decimal_comma", "too_few_cycles", "current_resolution", "slow_sampling"}},
      {.file = "compact_fluorescent_bank_steady.txt",
       .options = phase("AVValue", "AIValue"),
       .volts = 121.8,
       .amperes = 1.133,
       .watts = 65.2,
       .power_factor = 0.472,
       .crest = 4.13,
       .notes = {"rows_skipped", "decimal_comma", "load_changes"}},
      {.file = "capacitor_bank_control.txt",
       .options = phase("AVValue", "AIValue"),
       .notes = {"rows_skipped", "decimal_comma", "not_a_lamp", "slow_sampling", "time_jitter"}},
      {.file = "compact_fluorescent_cycle.csv",
       .volts = 122.1,
       .amperes = 0.0599,
       .watts = 3.58,
       .power_factor = 0.490,
       .notes = {"too_few_cycles", "channel_delay"}},
      {.file = "bulb_cycle_hot.csv",
       .volts = 121.8,
       .amperes = 0.326,
       .watts = 39.3,
       .notes = {"too_few_cycles", "channel_delay"}},
      {.file = "bulb_cycle_warming.csv",
       .amperes = 0.879,
       .notes = {"too_few_cycles", "current_offset", "channel_delay"}},
      {.file = "bulb_cycle_reversed_clamp.csv",
       .notes = {"reversed_clamp", "too_few_cycles", "current_offset", "channel_delay"}},
      {.file = "no_lamp_current.csv", .notes = {"too_few_cycles", "no_lamp_current"}},
      {.file = "bridge", .volts = 108.9, .amperes = 1.627, .watts = 125.2, .power_factor = 0.707, .peak = 3.92},
  };
  for (const Recording& want : recordings) {
    SCOPED_TRACE(want.file);
    const std::string lamps = (kFolder / "lamps").string() + "/";
    const std::string path = want.file == "bridge"
                                 ? lamps + "bridge_capacitor_voltage.csv+" + lamps + "bridge_capacitor_current.csv"
                                 : lamps + want.file;
    const Figures figures = measure(read_capture(path, want.options));
    const auto near = [](double found, double expected, double share) {
      if (expected != 0.0) {
        EXPECT_NEAR(found, expected, share * expected);
      }
    };
    near(figures.voltage_rms_v, want.volts, 0.02);
    near(figures.current_rms_a, want.amperes, 0.02);
    near(figures.active_power_w, want.watts, 0.02);
    near(*figures.power_factor, want.power_factor, 0.02);
    near(figures.current_peak_a, want.peak, 0.05);
    near(*figures.current_crest_factor, want.crest, 0.05);
    EXPECT_EQ(figures.inrush.has_value(), want.inrush_peak > 0.0 || want.file == "capacitor_bank_control.txt");
    if (figures.inrush) near(figures.inrush->peak_a, want.inrush_peak, 0.05);
    std::set<std::string> noticed;
    for (const QualityNote& note : figures.quality) noticed.insert(note.code);
    EXPECT_EQ(noticed, want.notes);
    const bool dimmed = want.file.find("leading_edge") != std::string::npos;
    EXPECT_EQ(figures.cut.edge, dimmed ? Edge::leading : Edge::none);
    // 4.8 ms of firing delay at 50 Hz, to a sample or two at 15 kHz.
    if (want.file == "halogen_leading_edge_steady.csv") {
      EXPECT_NEAR(figures.cut.conduction_angle_deg, 93.6, 2.5);
    }
  }
}

TEST(RealLayouts, AreReadOrRefusedForTheRightReason) {
  if (!std::filesystem::exists(kFolder / "layouts")) GTEST_SKIP() << "the real recordings are not here";
  struct Layout {
    const char* file;
    const char* refused;  // part of the reason without options; empty: read
    CaptureOptions options;
    std::size_t samples;  // with options and the second file; 0: it cannot be read
    double interval_s;
    std::string second = {};  // the file of the current (or the same again) where each holds one channel
  };
  const auto columns = [](const char* t, const char* v, const char* i) {
    CaptureOptions o;
    if (*t != '\0') o.time_column = t;
    o.voltage_column = v;
    o.current_column = i;
    return o;
  };
  const std::vector<Layout> layouts{
      {"layout_01.csv", "more than one column could be the voltage", columns("", "CH1", "CH2"), 1200, 2e-5},
      {"layout_03.csv", "no column of current", {}, 2500, 2e-5, "layout_04.csv"},
      {"layout_04.csv", "no column of voltage", {}, 0, 0},
      {"layout_06.csv", "more than one column could be the voltage", columns("", "2", "3"), 2000, 5e-6},
      {"layout_08.csv", "no column of current", columns("", "2", "2"), 4988, 2e-6, "layout_08.csv"},
      {"layout_11.csv", "no column of current", columns("", "3", "3"), 1000, 1.001001e-3, "layout_11.csv"},
      {"layout_13.csv", "more than one column could be the voltage", columns("", "CH1", "CH2"), 4990, 1e-3},
      {"layout_16.csv", "no column of current", columns("", "2", "2"), 4984, 2.5e-10, "layout_16.csv"},
      {"layout_18.csv", "no column of current", columns("", "2", "2"), 4997, 1.28e-6, "layout_18.csv"},
      {"layout_20.txt", "more than one column could be the voltage", columns("", "Kanal A", "Kanal B"), 50, 2.62144e-3},
      {"layout_24.csv", "no header, and more columns", columns("1", "2", "5"), 2500, 1e-6},
      {"layout_26.txt", "more than one column could be the voltage", columns("", "AVValue", "AIValue"), 2944,
       6.5116e-5},
      {"layout_27.csv", "pointer to a file that is kept elsewhere", {}, 0, 0},
  };
  for (const Layout& layout : layouts) {
    SCOPED_TRACE(layout.file);
    const std::string path = (kFolder / "layouts" / layout.file).string();
    try {
      read_capture(path);
      ADD_FAILURE() << "was read without a choice of columns";
    } catch (const Error& error) {
      std::printf("%-14s refused: %s\n", layout.file, error.message().c_str());
      EXPECT_NE(error.message().find(layout.refused), std::string::npos) << error.what();
    }
    if (layout.samples == 0) continue;
    const std::string second = layout.second.empty() ? "" : "+" + (kFolder / "layouts" / layout.second).string();
    const Capture capture = read_capture(path + second, layout.options);
    std::printf("%-14s with columns: %zu samples, %g s apart\n", layout.file, capture.samples(),
                capture.sample_interval_s);
    EXPECT_NEAR(static_cast<double>(capture.samples()), static_cast<double>(layout.samples), 1.0);
    EXPECT_NEAR(capture.sample_interval_s, layout.interval_s, 1e-3 * layout.interval_s);
  }
}

}  // namespace
}  // namespace lampload::waveform_real_captures_test
