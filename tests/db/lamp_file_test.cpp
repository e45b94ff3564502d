// Lamp model files: what is written comes back, what is changed on its way is refused, and so is what cannot be.

#include "db/lamp_file.h"

#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <functional>
#include <random>
#include <sstream>

#include "core/error.h"
#include "db/canonical_json.h"
#include "heater_lamp.h"
#include "tests/places.h"

namespace lampload::lamp_file_test {
namespace {

using json::Json;

// RFC 8032, 7.1, test 1: its secret key is known to everybody.
const char* const published_key = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";

SharingTerms signing(bool with_samples = false) {
  SharingTerms terms;
  terms.with_samples = with_samples;
  terms.licence = "CC0-1.0";
  terms.contributor = "the boathouse";
  terms.key = SecretKey(published_key);
  terms.extras = R"({"kept":[1,{"as":"it is"}],"x":1e-7})";
  return terms;
}

std::string text_of(const SharedLamp& lamp, LampFileLayout layout = LampFileLayout::lines) {
  return lamp_file_text(std::span(&lamp, 1), layout);
}

std::string refusal(const std::string& text) {
  try {
    (void)parse_lamp_file(text, "pendant.json");
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::input_refused);
    return error.what();
  }
  return "not refused";
}

TEST(LampFile, ComesBackByteForByte) {
  for (const bool with_samples : {false, true}) {
    const SharedLamp shared = shared_lamp(test::heater_lamp(), signing(with_samples));
    for (const LampFileLayout layout : {LampFileLayout::lines, LampFileLayout::canonical}) {
      const std::string text = text_of(shared, layout);
      const std::vector<SharedLamp> back = parse_lamp_file(text, "folder/heater.json");
      ASSERT_EQ(back.size(), 1U);
      EXPECT_EQ(lamp_file_text(back, layout), text);
      EXPECT_EQ(back[0].signer, SecretKey(published_key).public_key());
      EXPECT_EQ(back[0].digest, shared.digest);
      EXPECT_EQ(back[0].file, "heater.json");
      EXPECT_EQ(back[0].extras, R"({"kept":[1,{"as":"it is"}],"x":1e-7})");
      EXPECT_EQ(back[0].with_samples, with_samples);
      // What came back is shared as the same again.
      EXPECT_EQ(shared_lamp(back[0].lamp, signing(with_samples)).text, shared.text);
    }
  }
}

TEST(LampFile, TheContentDigestIsTheSameUnderAnyNameAndSigner) {
  LampRecord lamp = test::heater_lamp();
  const SharedLamp first = shared_lamp(lamp, signing());
  lamp.name = "heater by the door";
  lamp.notes = "other";
  const SharedLamp second = shared_lamp(lamp, {.with_samples = true});
  EXPECT_EQ(first.content_digest, second.content_digest);
  EXPECT_NE(first.digest, second.digest);
  lamp.nominal.label_dimmable = false;
  EXPECT_NE(shared_lamp(lamp, {}).content_digest, first.content_digest);
}

TEST(LampFile, LeavesFoldersOut) {
  LampRecord lamp = test::heater_lamp();
  lamp.captures[0].capture.file = "folder/of/its/owner/heater_steady.csv";
  EXPECT_EQ(shared_lamp(lamp, {}).lamp.captures[0].capture.file, "heater_steady.csv");
}

// Written once by the first version of the format, and never again.
TEST(LampFile, TheFilesOfVersion10AreRead) {
  const std::string path = test::source_folder() + "/tests/db/golden/lamp_1_0.json";
  const std::vector<SharedLamp> lamps = read_lamp_file(path);
  ASSERT_EQ(lamps.size(), 2U);
  EXPECT_EQ(lamps[0].lamp.name, "changing-room heater");
  EXPECT_EQ(lamps[0].signer, SecretKey(published_key).public_key());
  EXPECT_EQ(lamps[0].licence, "CC0-1.0");
  EXPECT_TRUE(lamps[0].with_samples);
  EXPECT_EQ(lamps[0].lamp.captures[0].capture.samples(), 400U);
  EXPECT_EQ(lamps[0].lamp.fit->parameters[0].value, 530.25);
  EXPECT_EQ(lamps[0].lamp.fit->seed, 0xFFFFFFFFFFFFFFF0ULL);
  EXPECT_EQ(lamps[1].lamp.name, "heater by the door");
  EXPECT_TRUE(lamps[1].signer.empty());
  std::ostringstream text;
  text << std::ifstream(path).rdbuf();
  EXPECT_EQ(lamp_file_text(lamps), text.str());
}

// Written once by the first version that knew base and technology, and never again.
TEST(LampFile, TheFilesOfVersion11AreRead) {
  const std::string path = test::source_folder() + "/tests/db/golden/lamp_1_1.json";
  const std::vector<SharedLamp> lamps = read_lamp_file(path);
  ASSERT_EQ(lamps.size(), 2U);
  EXPECT_EQ(lamps[0].lamp.nominal.base, "R7s");
  EXPECT_EQ(lamps[0].lamp.nominal.technology, "heater");
  EXPECT_FALSE(lamps[1].lamp.nominal.base);
  EXPECT_NE(lamps[1].text.find(R"("record_version":"1.0")"), std::string::npos);
  std::ostringstream text;
  text << std::ifstream(path).rdbuf();
  EXPECT_EQ(lamp_file_text(lamps), text.str());
}

/// The record of an unsigned file, changed and sealed again: what is refused then is refused for what it says.
std::string resealed(const std::function<void(Json& lamp)>& change) {
  Json document = Json::parse(text_of(shared_lamp(test::heater_lamp(), {.with_samples = true})));
  Json& lamp = document["lamps"][0];
  change(lamp);
  lamp.erase("digest");
  const std::string digest = sha256_hex(json::canonical(lamp));
  lamp["digest"] = digest;
  return json::laid_out(document);
}

Json inrush(double peak_a, double i2t_a2s) {
  return {{"peak_a", peak_a}, {"i2t_a2s", i2t_a2s}, {"width_s", 1e-3}, {"phase_deg", 80.0}};
}

void switched_on(Json& lamp, double phase_deg, const Json& surge) {
  Json& figures = lamp["captures"][0]["figures"];
  figures["turn_on"] = {{"sample", 4}, {"phase_deg", phase_deg}, {"supply_side_voltage", false}};
  figures["inrush"] = surge;
}

struct Fault {
  const char* name;
  std::function<void(Json&)> change;
  const char* answer;
};

void PrintTo(const Fault& fault, std::ostream* out) { *out << fault.name; }

class BadLampFile : public ::testing::TestWithParam<Fault> {};

TEST_P(BadLampFile, IsRefusedWithItsPlace) {
  const std::string answer = refusal(resealed(GetParam().change));
  EXPECT_NE(answer.find(GetParam().answer), std::string::npos) << answer;
  EXPECT_TRUE(answer.starts_with("pendant.json")) << answer;
}

INSTANTIATE_TEST_SUITE_P(
    EveryFault, BadLampFile,
    ::testing::Values(
        Fault{"UnknownKey", [](Json& l) { l["fit"]["famly"] = 1; }, "lamps[0].fit.famly: is not a known key"},
        Fault{"BaseInAnEarlierVersion", [](Json& l) { l["label"]["base"] = "E27"; },
              "label.base: is a key of version 1.1, but the record says that it keeps to 1.0"},
        Fault{"LaterThanTheFile", [](Json& l) { l["record_version"] = "1.1"; },
              "lamps[0].record_version: is 1.1, but the file says that it keeps to 1.0"},
        Fault{"Missing", [](Json& l) { l["fit"].erase("family"); }, "lamps[0].fit.family: is missing"},
        Fault{"NumberAsText", [](Json& l) { l["fit"]["residual_rms_a"] = "0.1"; },
              "lamps[0].fit.residual_rms_a: a number was expected, here is a string"},
        Fault{"Null", [](Json& l) { l["label"]["rated_power_w"] = nullptr; }, "a number was expected, here is null"},
        Fault{"NameWithEscape", [](Json& l) { l["name"] = "x\x1b]0;y\x07"; },
              "lamps[0].name: must not hold control characters"},
        Fault{"NotesWithEscape", [](Json& l) { l["notes"] = "a\nb\x1b[31m"; }, "notes: must not hold control"},
        Fault{"UpperControl",
              [](Json& l) {
                l["licence"] =
                    "a\xc2\x9b"
                    "31m";
              },
              "licence: must not hold control"},
        Fault{"Direction", [](Json& l) { l["name"] = "60 W \u202e exe"; }, "change the direction of writing"},
        Fault{"UnitWithEscape", [](Json& l) { l["fit"]["parameters"][0]["unit"] = "\x1b[2J"; },
              "lamps[0].fit.parameters[0].unit: must not hold control"},
        Fault{"EvidenceName",
              [](Json& l) {
                l["captures"][0]["notes"].push_back(
                    {{"code", "x"}, {"severity", "note"}, {"message", "m"}, {"evidence", {{"\x1b[2J", 1.0}}}});
              },
              "must not hold control characters"},
        Fault{"LongName", [](Json& l) { l["name"] = std::string(201, 'x'); }, "must have 1 to 200 bytes, this has 201"},
        Fault{"Time", [](Json& l) { l["fit"]["fitted"]["time_utc"] = "yesterday"; }, "fitted.time_utc: a time like"},
        Fault{"Seed", [](Json& l) { l["fit"]["seed"] = "18446744073709551616"; }, "seed: is above 2^64 - 1"},
        Fault{"Digest", [](Json& l) { l["captures"][0]["sha256"] = "AB"; }, "64 lower-case hexadecimal digits"},
        Fault{"NoSuchFamily", [](Json& l) { l["fit"]["family"] = "candle"; }, "lamps[0].fit.family:"},
        Fault{"OutOfBounds", [](Json& l) { l["fit"]["parameters"][0]["value"] = 1e12; },
              "lamps[0].fit.parameters[0].value: 1000000000000"},
        Fault{"OtherParameter", [](Json& l) { l["fit"]["parameters"][0]["name"] = "resistance"; },
              "'resistance_ohm' was expected in this place"},
        Fault{"OutsideItsInterval", [](Json& l) { l["fit"]["parameters"][0]["lower_95"] = 530.5; },
              "is outside its own 95 % interval"},
        Fault{"TooSure", [](Json& l) { l["fit"]["parameters"][0]["standard_uncertainty"] = 0.1; },
              "is less than half of what the covariance says"},
        Fault{"CovarianceSize",
              [](Json& l) {
                l["fit"]["covariance"] = {{1.0, 0.0}, {0.0, 1.0}};
              },
              "covariance: 1 rows and columns were expected"},
        Fault{"CovarianceNegative", [](Json& l) { l["fit"]["covariance"] = Json::array({Json::array({-1e-6})}); },
              "a variance is below 0"},
        Fault{"CaptureThatIsNotThere", [](Json& l) { l["fit"]["captures"] = {2}; }, "there is no capture 2"},
        Fault{"PowerBeyondApparent", [](Json& l) { l["captures"][0]["figures"]["active_power_w"] = 200.0; },
              "figures.active_power_w: 200 W are more than the apparent power"},
        Fault{"PeakBelowRms", [](Json& l) { l["captures"][0]["figures"]["current_peak_a"] = 0.1; }, "below the rms"},
        Fault{"InvisibleInName", [](Json& l) { l["name"] = "stair\u200b candle"; },
              "lamps[0].name: must not hold characters that are not seen"},
        Fault{"ArabicLetterMark", [](Json& l) { l["name"] = "a\u061c b"; }, "change the direction of writing"},
        Fault{"BlankName", [](Json& l) { l["name"] = " "; }, "lamps[0].name: must not begin or end with a blank"},
        Fault{"BlankAtTheEnd", [](Json& l) { l["name"] = "stair candle\u00a0"; }, "must not begin or end with a blank"},
        Fault{"BlankAtTheBeginning", [](Json& l) { l["captures"][0]["sample"] = " 1"; },
              "captures[0].sample: must not begin or end with a blank"},
        Fault{"NoSuchDay", [](Json& l) { l["fit"]["fitted"]["time_utc"] = "2024-02-30T12:00:00Z"; },
              "fitted.time_utc: a time like 2024-02-29T12:00:00Z, that there is, was expected"},
        Fault{"NoSuchHour", [](Json& l) { l["captures"][0]["measured"]["time_utc"] = "2024-02-29T25:61:61Z"; },
              "captures[0].measured.time_utc: a time like"},
        Fault{"UnitOfAParameter", [](Json& l) { l["fit"]["parameters"][0]["unit"] = "kOhm"; },
              "lamps[0].fit.parameters[0].unit: 'Ohm' was expected, the unit of resistance_ohm"},
        Fault{"UnitOfADerivedFigure", [](Json& l) { l["fit"]["derived"][0]["unit"] = "kW"; },
              "lamps[0].fit.derived[0].unit: 'W' was expected, by the name rated_power_w"},
        Fault{"DerivedTwice", [](Json& l) { l["fit"]["derived"].push_back(l["fit"]["derived"][0]); },
              "lamps[0].fit.derived[1].name: 'rated_power_w' stands in the list twice"},
        Fault{"CaptureTwice",
              [](Json& l) {
                l["fit"]["captures"] = {1, 1};
              },
              "lamps[0].fit.captures: capture 1 stands in the list twice"},
        Fault{"MoreLeftOverThanFlowed", [](Json& l) { l["fit"]["residual_rms_a"] = 1.0; },
              "fit.residual_rms_a: 1 A are left over, more than flowed (0.4338 A)"},
        Fault{"SampleRate", [](Json& l) { l["captures"][0]["figures"]["sample_rate_hz"] = 8000.0; },
              "figures.sample_rate_hz: 8000 Hz are not one sample every 0.00025 s"},
        Fault{"Duration", [](Json& l) { l["captures"][0]["figures"]["duration_s"] = 1.0; },
              "figures.duration_s: 1 s are not 400 samples at 4000 Hz"},
        Fault{"CrestFactor", [](Json& l) { l["captures"][0]["figures"]["current_crest_factor"] = 1.0; },
              "figures.current_crest_factor: 1 is not the peak"},
        Fault{"PowerFactor", [](Json& l) { l["captures"][0]["figures"]["power_factor"] = 0.5; },
              "figures.power_factor: 0.5 is not"},
        Fault{"OtherMains", [](Json& l) { l["label"]["nominal_frequency_hz"] = 0; },
              "Hz were measured, but label.nominal_frequency_hz is 0"},
        Fault{"CutWithoutAnEdge", [](Json& l) { l["captures"][0]["figures"]["cut"]["conduction_angle_deg"] = 90.0; },
              "figures.cut.conduction_angle_deg: 90 degrees conduct, but the edge is none"},
        Fault{"InrushWithoutATurnOn", [](Json& l) { l["captures"][0]["figures"]["inrush"] = inrush(1.0, 1e-3); },
              "figures.inrush: is there, but no turn_on"},
        Fault{"InrushAtAnotherPhase", [](Json& l) { switched_on(l, 90.0, inrush(1.0, 1e-3)); },
              "figures.inrush.phase_deg: 80 degrees are not 90, those of the turn-on"},
        Fault{"MoreI2tThanThePeakGives", [](Json& l) { switched_on(l, 80.0, inrush(1.0, 0.02)); },
              "figures.inrush.i2t_a2s: 0.02 A2s are more than 1 A can give in half a cycle"},
        Fault{"NotBase64", [](Json& l) { l["captures"][0]["waveform"]["voltage_v"] = "x"; }, "base64"},
        Fault{"NotZstd", [](Json& l) { l["captures"][0]["waveform"]["voltage_v"] = "AAAA"; }, "cannot be unpacked"},
        Fault{"TooManySamples", [](Json& l) { l["captures"][0]["sample_count"] = 20000001; }, "is outside 1 to"},
        Fault{"OtherCount", [](Json& l) { l["captures"][0]["sample_count"] = 399; }, "but the figures are of 400"},
        Fault{"KeyWithoutSignature",
              [](Json& l) { l["contributor"]["public_key"] = SecretKey(published_key).public_key(); },
              "contributor.public_key: a key is named, but nothing is signed with it"},
        Fault{"NothingMeasured",
              [](Json& l) {
                l["captures"] = Json::array();
                l.erase("fit");
              },
              "nothing was measured of this lamp"}),
    [](const auto& info) { return info.param.name; });

// A starter's tube draws next to nothing at first, a wire what it draws when running.
TEST(LampFile, AWireDrawsItsRunningCurrentAtOnce) {
  LampRecord lamp = test::heater_lamp();
  lamp.captures[0].figures.turn_on = TurnOn{4, 80.0, false};
  lamp.captures[0].figures.inrush = Inrush{0.01, 1e-9, 1e-3, 80.0};
  lamp.nominal.technology = "fluorescent";
  EXPECT_NO_THROW((void)shared_lamp(lamp, {}));
  lamp.nominal.technology = "heater";
  try {
    (void)shared_lamp(lamp, {});
    ADD_FAILURE() << "not refused";
  } catch (const Error& error) {
    EXPECT_NE(std::string(error.what()).find("captures[0].figures.inrush.peak_a: 0.01 A are below the running peak"),
              std::string::npos)
        << error.what();
  }
}

TEST(LampFile, CovariancesThatCannotBeAreRefused) {
  // Each pair by itself is possible, all three are not.
  LampRecord lamp = test::heater_lamp();
  lamp.fit->family = "filament";
  const FamilyInfo& family = find_family("filament", "");
  lamp.fit->parameters.clear();
  lamp.fit->derived.clear();
  const std::size_t n = family.parameters.size();
  for (const ParameterSpec& spec : family.parameters) {
    const double value = spec.optional ? spec.absent : std::sqrt(spec.lower * spec.upper);
    lamp.fit->parameters.push_back(
        {std::string(spec.name), std::string(spec.unit), value, 0.0, spec.lower, spec.upper, false, ""});
  }
  lamp.fit->covariance.assign(n * n, 0.0);
  const auto set = [&](std::size_t i, std::size_t j, double value) {
    lamp.fit->covariance[i * n + j] = value;
    lamp.fit->covariance[j * n + i] = value;
  };
  for (std::size_t i = 0; i < 3; ++i) set(i, i, 1e-4);
  set(0, 1, 0.9e-4);
  set(1, 2, 0.9e-4);
  set(0, 2, 0.9e-4);
  EXPECT_NO_THROW((void)shared_lamp(lamp, {}));
  set(0, 2, -0.9e-4);
  EXPECT_THROW(
      {
        try {
          (void)shared_lamp(lamp, {});
        } catch (const Error& error) {
          EXPECT_NE(std::string(error.what()).find("not positive semidefinite"), std::string::npos) << error.what();
          throw;
        }
      },
      Error);
  lamp.fit->covariance[0 * n + 2] = 0.9e-4;
  EXPECT_THROW((void)shared_lamp(lamp, {}), Error);
}

TEST(LampFile, TextsThatAreNoSuchFileAreRefused) {
  EXPECT_NE(refusal("{").find("pendant.json:1, column 2: is not JSON"), std::string::npos) << refusal("{");
  EXPECT_NE(refusal("{\n\"lamps\": NaN}").find("pendant.json:2, column"), std::string::npos);
  EXPECT_NE(refusal("{\"lamps\": Infinity}").find("is not JSON"), std::string::npos);
  EXPECT_NE(refusal("{\"lamps\": 1e999}").find("out of range"), std::string::npos);
  EXPECT_NE(refusal(R"({"format":"lampload-lamp","format":"lampload-lamp"})").find("stands twice"), std::string::npos);
  EXPECT_NE(refusal(R"({"format":"lampload-channel"})").find("format: \"lampload-lamp\" was expected"),
            std::string::npos);
  EXPECT_NE(refusal(R"({"format":"lampload-lamp","format_version":"2.0","lamps":[]})")
                .find("version 2.0 is not known here, only 1.0 and 1.1"),
            std::string::npos);
  EXPECT_NE(refusal(std::string(std::size_t{1} << 20U, '[')).find("nested more than 16 levels deep"),
            std::string::npos);
  std::string many = "{";
  for (int i = 0; i < 2000; ++i) many += "\"k" + std::to_string(i) + "\":0,";
  EXPECT_NE(refusal(many + "\"z\":0}").find("more than 1000 keys"), std::string::npos);
  EXPECT_NE(refusal("\"\xff\"").find("is not JSON"), std::string::npos);
  EXPECT_NE(refusal(std::string(largest_lamp_file + 1, ' ')).find("is larger than 64 MiB"), std::string::npos);
}

// 2^53 + 1 lies between two doubles, and has the digest of its neighbour.
TEST(LampFile, WholeNumbersThatNotEveryProgramReadsExactlyAreRefused) {
  std::string text = resealed([](Json& lamp) { lamp["extras"] = {{"n", 9007199254740992}}; });
  EXPECT_NO_THROW((void)parse_lamp_file(text, "x"));
  text.replace(text.find("9007199254740992"), 16, "9007199254740993");
  EXPECT_NE(refusal(text).find("lamps[0].extras: is a whole number that not every program reads exactly"),
            std::string::npos)
      << refusal(text);
}

TEST(LampFile, StatementsOfSqlAndPathsAreOnlyText) {
  LampRecord lamp = test::heater_lamp();
  lamp.name = "'); DROP TABLE lamp_types; -- ../../etc/passwd";
  EXPECT_EQ(parse_lamp_file(text_of(shared_lamp(lamp, {})), "x")[0].lamp.name, lamp.name);
}

// LAMPLOAD_TAMPERINGS says how many.
TEST(LampFile, NoChangedByteIsAcceptedAsSigned) {
  const char* asked = std::getenv("LAMPLOAD_TAMPERINGS");
  const int count = asked == nullptr ? 300 : std::atoi(asked);
  std::mt19937_64 random(20260129);
  int refused = 0;
  int unchanged = 0;
  const SharedLamp shared = shared_lamp(test::heater_lamp(100), signing(true));
  for (int i = 0; i < count; ++i) {
    std::string text = text_of(shared, i % 2 == 0 ? LampFileLayout::lines : LampFileLayout::canonical);
    char& byte = text[random() % text.size()];
    const auto other = static_cast<char>(random() % 256);
    if (byte == other) {
      ++unchanged;
      continue;
    }
    byte = other;
    try {
      for (const SharedLamp& one : parse_lamp_file(text, "x")) EXPECT_EQ(one.signer, "") << "change " << i;
    } catch (const Error& error) {
      EXPECT_EQ(error.code(), ErrorCode::input_refused);
      ++refused;
    }
  }
  EXPECT_EQ(refused + unchanged, count);
  RecordProperty("refused", refused);
  std::printf("%d changed files, all %d refused\n", count - unchanged, refused);
}

}  // namespace
}  // namespace lampload::lamp_file_test
