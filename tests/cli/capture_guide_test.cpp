// The guide to measuring, against what the program itself needs and against the page that says the same.
#include "cli/capture_guide.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <fstream>
#include <set>
#include <sstream>

#include "core/lamp/lamp.h"
#include "core/waveform/quality_limits.h"
#include "json_keys.h"
#include "program.h"
#include "tests/places.h"

namespace lampload::capture_guide_test {
namespace {

using Json = nlohmann::ordered_json;
namespace needs = quality_limits;

std::set<std::string> kinds_of(const CaptureGuide& guide) {
  std::set<std::string> kinds;
  for (const GuidedCapture& capture : guide.captures) kinds.insert(capture.kind);
  return kinds;
}

/// Blanks of any kind as one, so that lines may be broken anywhere.
std::string flat(const std::string& text) {
  std::string words;
  std::istringstream in(text);
  for (std::string word; in >> word;) words += word + " ";
  return words;
}

// Every parameter of a family is shown by a capture that the guide asks for, but for those that only a harmful one
// shows.
TEST(CaptureGuide, AsksForWhatTheFamiliesNeed) {
  std::set<std::string> guided;
  for (const std::string& word : guided_lamps()) {
    const CaptureGuide guide = capture_guide(word);
    const std::set<std::string> kinds = kinds_of(guide);
    for (const std::string& name : guide.families) {
      guided.insert(name);
      for (const FamilyInfo& family : lamp_families()) {
        if (family.name != name) continue;
        for (const ParameterSpec& parameter : family.parameters) {
          const std::string shown_by(parameter.identified_by);
          const bool cut = shown_by == "leading_edge" || shown_by == "trailing_edge";
          if (cut && !family.harmed_by_cuts.empty()) {
            EXPECT_FALSE(kinds.contains(shown_by)) << word << " would harm the lamp";
          } else if (!shown_by.empty() && parameter.part.empty()) {
            EXPECT_TRUE(kinds.contains(shown_by)) << word << ": " << parameter.name << " needs " << shown_by;
          }
        }
      }
    }
  }
  for (const FamilyInfo& family : lamp_families())
    EXPECT_TRUE(guided.contains(std::string(family.name))) << family.name;
}

// A capture taken as the guide says brings no note on its length or sample rate, at 50 and 60 Hz.
TEST(CaptureGuide, AsksForWhatTheQualityNotesAsk) {
  for (const std::string& word : guided_lamps()) {
    const CaptureGuide guide = capture_guide(word);
    const bool mains = guide.families.empty() || (word != "dc-strip" && word != "bare-emitter");
    for (const GuidedCapture& capture : guide.captures) {
      SCOPED_TRACE(word + " " + capture.kind);
      EXPECT_FALSE(capture.how.empty() || capture.range.empty() || capture.trigger.empty());
      if (!mains) continue;
      EXPECT_GE(capture.sample_rate_hz, needs::fewest_samples_a_cycle * 60.0);
      // A tenth of a turn-on is gone before the switch closes.
      EXPECT_GE((capture.kind == "turn_on" ? 0.9 : 1.0) * capture.duration_s,
                static_cast<double>(needs::fewest_cycles) / 50.0);
    }
  }
  // The shortest surge that the guide names stands on enough samples.
  const CaptureGuide led = capture_guide("led-lamp");
  for (const GuidedCapture& capture : led.captures) {
    if (capture.kind == "turn_on") {
      EXPECT_GE(0.1e-3 * capture.sample_rate_hz, needs::fewest_samples_of_a_surge);
    }
  }
}

TEST(CaptureGuide, SaysItsCautionsFirst) {
  const test::Workplace place;
  for (const std::string& word : guided_lamps()) {
    const test::Outcome shown = place.run({"inspect", "--guide", word});
    EXPECT_EQ(shown.status, 0) << shown.err;
    const auto caution = shown.out.find("Mains voltage kills");
    ASSERT_NE(caution, std::string::npos) << word;
    EXPECT_LT(caution, shown.out.find("Captures, in this order"));
    const Json guide = Json::parse(place.run({"inspect", "--guide", word, "--json"}).out)["guide"];
    EXPECT_EQ(test::keys(guide),
              (test::Keys{"kind", "lamp", "families", "cautions", "captures", "probes", "deskew", "afterwards"}));
    EXPECT_EQ(test::keys(guide["captures"][0]),
              (test::Keys{"kind", "how", "range", "sample_rate_hz", "duration_s", "trigger"}));
  }
  const test::Outcome unknown = place.run({"inspect", "--guide", "lava"});
  EXPECT_EQ(unknown.status, 2);
  EXPECT_NE(unknown.err.find("dropper-candle"), std::string::npos) << unknown.err;
  const test::Outcome none = place.run({"inspect"});
  EXPECT_EQ(none.status, 2);
  EXPECT_NE(none.err.find("no capture is named"), std::string::npos) << none.err;
}

TEST(CaptureGuide, ThePageSaysTheSame) {
  std::ifstream file(test::source_folder() + "/docs/measuring.md");
  std::stringstream text;
  text << file.rdbuf();
  const std::string page = flat(text.str());
  const auto expect = [&](const std::string& part) { EXPECT_NE(page.find(flat(part)), std::string::npos) << part; };
  for (const std::string& word : guided_lamps()) {
    const CaptureGuide guide = capture_guide(word);
    expect("--guide " + word + "`");
    for (const std::string& caution : guide.cautions) expect(caution);
    for (const std::string& probe : guide.probes) expect(probe);
    for (const std::string& step : guide.deskew) expect(step);
    for (const GuidedCapture& capture : guide.captures) {
      expect(capture.how);
      expect(capture.range);
      expect(capture.trigger);
    }
    expect(guide.afterwards);
  }
}

}  // namespace
}  // namespace lampload::capture_guide_test
