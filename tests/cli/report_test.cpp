// The page that `report` writes: one file, everything from the library shown as text, nothing fetched.

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "cli/report/plot.h"
#include "program.h"
#include "stored_lamp.h"

namespace lampload::test::report_test {
namespace {

using Json = nlohmann::ordered_json;

std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
  return count;
}

/// What the page gives to its script.
Json data_of(const std::string& page) {
  const std::string begin = R"(<script type="application/json" id="data">)";
  const std::size_t at = page.find(begin) + begin.size();
  return Json::parse(page.substr(at, page.find("</script>", at) - at));
}

void expect_whole_and_alone(const std::string& page) {
  EXPECT_EQ(page.find("<!DOCTYPE html>"), 0U);
  EXPECT_NE(page.find("default-src 'none'"), std::string::npos);
  EXPECT_EQ(page.find("{{"), std::string::npos) << "a place of the template was not filled";
  for (const char* from_elsewhere : {"src=", "<link", "@import", "url(", "https://", "fetch("}) {
    EXPECT_EQ(page.find(from_elsewhere), std::string::npos) << from_elsewhere;
  }
  for (const char* element : {"article", "table", "figure", "details", "ul", "li", "svg", "bdi", "div"}) {
    const std::string name = element;
    EXPECT_EQ(count_of(page, "<" + name + ">") + count_of(page, "<" + name + " "), count_of(page, "</" + name + ">"))
        << name;
  }
}

TEST(Report, AnswersFirstAndBringsItsPictures) {
  const Workplace place;
  place.write_resistor_capture("heater.csv");
  place.write_dimmer("dimmer.json");
  ASSERT_EQ(place.run({"characterise", place.path("heater.csv").string(), "--lamp", "heater"}).status, 0);
  const Outcome outcome = place.run({"report", "heater", "--channel", "dimmer.json", "-o", "heater.html"});
  EXPECT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_EQ(outcome.out, "Written: heater.html\n");
  const std::string page = place.read("heater.html");
  expect_whole_and_alone(page);
  EXPECT_EQ(page.find(place.path("").string()), std::string::npos) << "a page does not tell the folders of a machine";
  EXPECT_NE(page.find(">heater.csv<"), std::string::npos);
  const std::size_t answer = page.find("class=\"answer good\">");
  ASSERT_NE(answer, std::string::npos);
  for (const char* later : {"The captures", "Dimming", "What limits the count", "The equivalent circuit",
                            "Where it comes from", "What was not checked", "Cautions", "Mains voltage kills"}) {
    EXPECT_GT(page.find(later), answer) << later;
    EXPECT_NE(page.find(later), std::string::npos) << later;
  }
  EXPECT_NE(page.find("in series a resistor"), page.find("across both wires a resistor, resistance 500 Ohm"));
  const Json data = data_of(page);
  EXPECT_EQ(data["plots"].size(), count_of(page, "data-plot="));
  const Json& waveforms = data["plots"][0];
  EXPECT_EQ(waveforms["panels"].size(), 3U) << "voltage, current, residual";
  EXPECT_EQ(waveforms["panels"][1]["series"].size(), 2U) << "measured and fitted";
}

TEST(Report, WithoutAChannelItIsOfTheLampAlone) {
  const Workplace place;
  store_lamp(place, "heater", "resistor", "", {529.0});
  const Outcome outcome = place.run({"report", "heater", "-o", "heater.html", "--json"});
  EXPECT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_EQ(Json::parse(outcome.out), Json::parse(R"({"written":["heater.html"]})"));
  const std::string page = place.read("heater.html");
  expect_whole_and_alone(page);
  EXPECT_NE(page.find("No channel was named, so this says nothing of modes and counts."), std::string::npos);
}

TEST(Report, NamesAreTextWhateverIsInThem) {
  const std::string name = "<b onclick=\"x('&amp;')\">\u05d0\u05d1 {{data}} </script>";
  const std::string shown = "&lt;b onclick=&quot;x(&#39;&amp;amp;&#39;)&quot;&gt;\u05d0\u05d1 {{data}} &lt;/script&gt;";
  const Workplace place;
  store_lamp(place, name, "resistor", "", {529.0});
  place.write_dimmer("dimmer.json", "\u202edimmer <i>");
  ASSERT_EQ(place.run({"report", name, "--channel", "dimmer.json", "-o", "page.html"}).status, 0);
  const std::string page = place.read("page.html");
  EXPECT_EQ(page.find("<b onclick"), std::string::npos);
  EXPECT_EQ(page.find("<i>"), std::string::npos);
  EXPECT_EQ(page.find('\x1b'), std::string::npos);
  EXPECT_EQ(page.find("\u202e"), std::string::npos) << "turns the direction of what follows";
  EXPECT_NE(page.find("<bdi>" + shown + "</bdi>"), std::string::npos);
  EXPECT_NE(page.find("\\u{202e}dimmer &lt;i&gt;"), std::string::npos);
  EXPECT_EQ(count_of(page, "</script>"), 2U) << "one for the data, one for the script";
}

TEST(Report, ALampThatIsNotThereIsNamed) {
  const Workplace place;
  store_lamp(place, "heater", "resistor", "", {529.0});
  const Outcome outcome = place.run({"report", "heeter", "-o", "page.html"});
  EXPECT_EQ(outcome.status, 4);
  EXPECT_NE(outcome.err.find("no lamp 'heeter' in the library; the nearest is 'heater'"), std::string::npos)
      << outcome.err;
  EXPECT_FALSE(std::filesystem::exists(place.path("page.html")));
}

TEST(Schedule, IsASheetForEachBoardWithSettings) {
  const Workplace place;
  place.write("plan.json", R"({"format": "lampload-plan", "format_version": "1.0", "name": "boathouse",
  "boards": [{"name": "north <board>", "breakers": [{"name": "F1", "curve": "B", "rating_a": 6}]},
             {"name": "south board", "breakers": [{"name": "F9", "curve": "C", "rating_a": 10}]}],
  "lamps": [{"name": "heater", "family": "resistor", "parameters": {"resistance_ohm": 529}, "label_dimmable": true}],
  "rooms": [{"name": "changing room", "channels": [
    {"name": "benches", "breaker": "F1", "mode": "leading_edge", "description": {"supply": {"voltage_v": 230, "frequency_hz": 50, "tolerance_percent": 0}, "output": {"kind": "phase_cut",
     "switch": "mosfet_pair", "edges": ["leading"], "rated_current_a": 4, "soft_start_s": 0.2,
     "min_conduction_deg": 36, "max_conduction_deg": 144}}, "lamps": [{"lamp": "heater", "count": 2}]},
    {"name": "showers", "breaker": "F9", "description": {"supply": {"voltage_v": 230, "frequency_hz": 50, "tolerance_percent": 0}, "output": {"kind": "relay", "rated_current_a": 4}},
     "lamps": [{"lamp": "heater", "count": 3}]},
    {"name": "towels", "description": {"supply": {"voltage_v": 230, "frequency_hz": 50, "tolerance_percent": 0}, "output": {"kind": "relay", "rated_current_a": 4}},
     "lamps": [{"lamp": "heater", "count": 1}]}]}]})");
  const Outcome outcome = place.run({"plan", "plan.json", "--report", "schedule.html"});
  EXPECT_EQ(outcome.status, 0) << outcome.err << outcome.out;
  const std::string page = place.read("schedule.html");
  expect_whole_and_alone(page);
  EXPECT_EQ(count_of(page, "class=\"sheet\""), 3U) << "two boards, and what hangs on none";
  EXPECT_NE(page.find("<h1><bdi>north &lt;board&gt;</bdi></h1>"), std::string::npos);
  // A resistance runs over all that the channel allows: 36 to 144 of 180 degrees, 10 ms a half cycle.
  EXPECT_NE(page.find("conduction 36 to 144 deg (fires 2.00 ms to 8.00 ms after the zero crossing)"), std::string::npos)
      << page.substr(page.find("Channels and their"), 1500);
  EXPECT_NE(page.find("soft start 200 ms"), std::string::npos);
}

TEST(Catalogue, HasAPageAndAModelFileForEachLamp) {
  const std::string odd = "<i>\"odd\"</i> </script>";
  const Workplace place;
  store_lamp(place, odd, "resistor", "", {529.0});
  store_lamp(place, "pendant", "filament", "", {66.0, 9.8e-13, 2e-3, 0.5, 0.0, 0.0});
  ASSERT_EQ(place.run({"import", "--lamp", "pendant", "--base", "E27", "--technology", "halogen"}).status, 0);
  const Outcome outcome = place.run({"catalogue", "-o", "site", "--title", "Lamps & more"});
  EXPECT_EQ(outcome.status, 0) << outcome.err;
  EXPECT_EQ(outcome.out, "Written: site/index.html, 2 lamps\n");
  EXPECT_NE(place.read("site/index.html").find("<h1><bdi>Lamps &amp; more</bdi></h1>"), std::string::npos);
  const std::string begin = "window.lampload = ";
  const std::string data = place.read("site/lamps.js");
  ASSERT_TRUE(data.starts_with(begin));
  const Json lamps = Json::parse(data.substr(begin.size(), data.rfind(';') - begin.size()))["lamps"];
  ASSERT_EQ(lamps.size(), 2U);
  EXPECT_EQ(lamps[0][0], odd);
  for (const Json& lamp : lamps) {
    const std::string page = place.read("site/" + lamp.back().get<std::string>());
    EXPECT_EQ(page.find("<i>"), std::string::npos);
    EXPECT_EQ(page.find("http"), std::string::npos);
    EXPECT_EQ(page.find("Base: E27<") != std::string::npos, lamp[0] == "pendant");
    EXPECT_EQ(page.find("Technology: halogen<") != std::string::npos, lamp[0] == "pendant");
    const std::size_t at = page.find("../models/");
    ASSERT_NE(at, std::string::npos);
    EXPECT_TRUE(std::filesystem::exists(place.path("site/lamps") / page.substr(at, page.find('"', at) - at)));
  }
  ASSERT_EQ(place.run({"remove", odd, "--yes"}).status, 0);
  EXPECT_EQ(place.run({"catalogue", "-o", "site"}).out, "Written: site/index.html, 1 lamp\n");
  std::size_t pages = 0;
  for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(place.path("site/lamps"))) ++pages;
  EXPECT_EQ(pages, 1U);
}

TEST(Catalogue, LeavesAFolderOfSomebodyElseAlone) {
  const Workplace place;
  store_lamp(place, "heater", "resistor", "", {529.0});
  std::filesystem::create_directories(place.path("letters/lamps"));
  place.write("letters/lamps/one.txt", "dear");
  const Outcome outcome = place.run({"catalogue", "-o", "letters"});
  EXPECT_EQ(outcome.status, 3);
  EXPECT_EQ(outcome.err,
            "lampload: letters: the folder holds something else than a catalogue. Name an empty folder, or one that is "
            "not there\n");
  EXPECT_EQ(place.read("letters/lamps/one.txt"), "dear");
}

TEST(Decimated, KeepsEveryPeak) {
  std::vector<double> samples(10007);
  for (std::size_t s = 0; s < samples.size(); ++s) samples[s] = std::sin(0.01 * static_cast<double>(s));
  samples[5003] = 40.0;
  samples[7001] = -50.0;
  const Decimated few = decimated(samples, 100);
  ASSERT_TRUE(few.envelope);
  ASSERT_EQ(few.values.size(), 2U * 100U);
  const auto step = static_cast<std::size_t>(few.step);
  EXPECT_EQ(few.values[2 * (5003 / step) + 1], 40.0);
  EXPECT_EQ(few.values[2 * (7001 / step)], -50.0);
  for (std::size_t s = 0; s < samples.size(); ++s) {
    ASSERT_LE(few.values[2 * (s / step)], samples[s]);
    ASSERT_GE(few.values[2 * (s / step) + 1], samples[s]);
  }
  EXPECT_EQ(decimated(samples, 6000).values, samples) << "few enough to be kept as they are";
}

}  // namespace
}  // namespace lampload::test::report_test
