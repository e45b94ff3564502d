#include "db/channel_file.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "core/error.h"
#include "tests/db/temporary_folder.h"

namespace lampload::channel_file_test {
namespace {

constexpr const char* whole = R"({
  "format": "lampload-channel",
  "format_version": "1.0",
  "name": "Clubroom pendants",
  "supply": {
    "voltage_v": 230.0,
    "frequency_hz": 50.0,
    "tolerance_percent": 10.0,
    "source_resistance_ohm": 0.4,
    "source_inductance_h": 0.0008
  },
  "cable": {
    "length_m": 25.5,
    "conductor_mm2": 1.5
  },
  "breaker": {
    "curve": "C",
    "rating_a": 10.0
  },
  "output": {
    "kind": "phase_cut",
    "edges": [
      "leading",
      "trailing"
    ],
    "switch": "mosfet_pair",
    "on_resistance_ohm": 0.2,
    "on_voltage_v": 0.7,
    "rated_current_a": 1.3,
    "repetitive_peak_current_a": 8.0,
    "surge_peak_current_a": 20.0,
    "surge_i2t_a2s": 2.5,
    "di_dt_a_per_us": 50.0,
    "holding_current_a": 0.02,
    "latching_current_a": 0.03,
    "thermal_resistance_k_per_w": 12.0,
    "max_junction_c": 150.0,
    "ambient_c": 45.0,
    "avalanche_energy_j": 0.3,
    "clamp_voltage_v": 700.0,
    "choke_h": 0.0022,
    "snubber_f": 1e-08,
    "snubber_ohm": 100.0,
    "neutral": true,
    "two_wire_supply_a": 0.005,
    "soft_start_s": 0.5,
    "zero_cross_turn_on": false,
    "min_conduction_deg": 30.0,
    "max_conduction_deg": 165.0,
    "supply_voltage_v": 24.0,
    "current_a": 0.35,
    "compliance_min_v": 9.0,
    "compliance_max_v": 48.0,
    "pwm_hz": 1000.0
  }
}
)";

constexpr const char* least = R"({"format":"lampload-channel","format_version":"1.0","name":"Stair",
  "supply":{"voltage_v":120,"frequency_hz":60},"output":{"kind":"phase_cut","edges":["leading"],"switch":"triac"}})";

TEST(ChannelFile, EveryKeyIsReadAndWrittenBack) {
  const Channel channel = parse_channel(whole, "whole");
  EXPECT_EQ(channel.name, "Clubroom pendants");
  EXPECT_EQ(channel.supply.source_inductance_h, 0.0008);
  EXPECT_EQ(channel.cable->length_m, 25.5);
  EXPECT_EQ(channel.breaker->curve, 'C');
  EXPECT_EQ(channel.output.kind, OutputKind::phase_cut);
  EXPECT_EQ(channel.output.edges, (std::vector<Edge>{Edge::leading, Edge::trailing}));
  EXPECT_EQ(channel.output.switch_kind, SwitchKind::mosfet_pair);
  EXPECT_EQ(channel.output.snubber_f, 1e-8);
  EXPECT_EQ(channel.output.neutral, true);
  EXPECT_EQ(channel.output.zero_cross_turn_on, false);
  EXPECT_EQ(channel.output.pwm_hz, 1000.0);
  EXPECT_EQ(channel_json(channel), whole);
}

TEST(ChannelFile, WhatIsAbsentStaysAbsent) {
  const Channel channel = parse_channel(least, "least");
  EXPECT_EQ(channel.supply.voltage_v, 120.0);
  EXPECT_EQ(channel.supply.tolerance_percent, 10.0);
  EXPECT_FALSE(channel.cable.has_value());
  EXPECT_FALSE(channel.breaker.has_value());
  EXPECT_FALSE(channel.output.rated_current_a.has_value());
  EXPECT_FALSE(channel.output.neutral.has_value());
  const std::string written = channel_json(channel);
  EXPECT_EQ(written.find("cable"), std::string::npos);
  EXPECT_EQ(written.find("rated_current_a"), std::string::npos);
  EXPECT_EQ(channel_json(parse_channel(written, "written")), written);
}

TEST(ChannelFile, DirectCurrentOutputsNeedNoMains) {
  const Channel strip = parse_channel(R"({"format":"lampload-channel","format_version":"1.0","name":"Boat racks",
    "output":{"kind":"dc_pwm","supply_voltage_v":24,"rated_current_a":4,"pwm_hz":800}})",
                                      "strip");
  EXPECT_EQ(strip.output.switch_kind, SwitchKind::mosfet);
  EXPECT_EQ(strip.output.supply_voltage_v, 24.0);
  EXPECT_EQ(channel_json(parse_channel(channel_json(strip), "again")), channel_json(strip));
}

TEST(ChannelFile, AnyDoubleComesBackExactly) {
  Channel channel = parse_channel(least, "least");
  channel.supply.source_resistance_ohm = 1.0 / 3.0;
  channel.output.surge_i2t_a2s = 5e-9 * (1.0 + 1e-15);
  channel.output.rated_current_a = 0.1 + 0.2;
  const Channel back = parse_channel(channel_json(channel), "again");
  EXPECT_EQ(back.supply.source_resistance_ohm, channel.supply.source_resistance_ohm);
  EXPECT_EQ(back.output.surge_i2t_a2s, channel.output.surge_i2t_a2s);
  EXPECT_EQ(back.output.rated_current_a, channel.output.rated_current_a);
}

TEST(ChannelFile, FilesAreReadWhole) {
  const test::TemporaryFolder folder;
  test::write_bytes(folder.file("stair.json"), least);
  EXPECT_EQ(read_channel_file(folder.file("stair.json")).name, "Stair");
  EXPECT_THROW(read_channel_file(folder.file("none.json")), Error);
  EXPECT_THROW(read_channel_file(folder.path().string()), Error);
}

struct Bad {
  const char* label;
  const char* from;  ///< this part of the text `least` ...
  const char* to;    ///< ... is replaced by this
  const char* said;  ///< and the error is this, after "channel.json"
};

std::ostream& operator<<(std::ostream& out, const Bad& bad) { return out << bad.label; }

class BadChannelFile : public ::testing::TestWithParam<Bad> {};

TEST_P(BadChannelFile, IsRefusedWithPlaceAndReason) {
  std::string text = least;
  const std::size_t at = text.find(GetParam().from);
  ASSERT_NE(at, std::string::npos);
  text.replace(at, std::string(GetParam().from).size(), GetParam().to);
  try {
    parse_channel(text, "channel.json");
    ADD_FAILURE() << "accepted: " << text;
  } catch (const Error& error) {
    EXPECT_EQ(error.code(), ErrorCode::input_refused);
    EXPECT_EQ(std::string(error.what()).substr(0, std::string(GetParam().said).size() + 12),
              std::string("channel.json") + GetParam().said)
        << error.what();
  }
}

const Bad bad_files[] = {
    {"NotJson", "{\"format\"", "format", ":1, column 2: is not JSON: the text cannot be understood here"},
    {"Empty", least, "", ":1, column 1: is not JSON"},
    {"MissingComma", "\"Stair\",", "\"Stair\"", ":2, column 10: is not JSON"},
    {"TextBehindTheEnd", "\"triac\"}}", "\"triac\"}} x", ":2, column"},
    {"NotAnObject", least, "[1, 2]", ": an object {...} was expected, here is an array"},
    {"NaN", "120", "NaN", ":2, column"},
    {"NumberTooLarge", "120", "1e999", ": holds a number that is out of range"},
    {"TooDeep", "120", "[[[[[[[[[[1]]]]]]]]]]", ": is nested more than 8 levels deep"},
    {"SameKeyTwice", "\"voltage_v\":120", "\"voltage_v\":120,\"voltage_v\":230",
     ": key \"voltage_v\" stands twice in one object"},
    {"InvalidUtf8", "Stair", "Sta\xFFir", ":1, column"},
    {"OtherFormat", "lampload-channel", "lampload-lamp",
     ", format: \"lampload-channel\" was expected, here is \"lampload-lamp\""},
    {"NoFormat", "\"format\":\"lampload-channel\",", "", ", format: is missing"},
    {"NewerVersion", "\"1.0\"", "\"2.0\"",
     ", format_version: this program knows versions \"1.0\" to \"1.1\", the file has \"2.0\". Use a lampload that "
     "knows it"},
    {"NewerMinor", "\"1.0\"", "\"1.2\"",
     ", format_version: this program knows versions \"1.0\" to \"1.1\", the file has \"1.2\""},
    {"KeyOfALaterVersion", "\"switch\"", "\"gate_pulse_s\":1e-4,\"switch\"",
     ", output.gate_pulse_s: is a key of version \"1.1\", and the file says \"1.0\". Write \"format_version\": "
     "\"1.1\""},
    {"ObjectOfALaterVersion", "\"output\"", "\"limits\":{},\"output\"",
     ", limits: is a key of version \"1.1\", and the file says \"1.0\". Write \"format_version\": \"1.1\""},
    {"CableKeyOfALaterVersion", "\"output\"",
     "\"cable\":{\"length_m\":3,\"conductor_mm2\":1.5,\"shared_neutral\":true},\"output\"",
     ", cable.shared_neutral: is a key of version \"1.1\", and the file says \"1.0\""},
    {"SupplyKeyOfALaterVersion", "60}", "60,\"dc_offset_v\":1}",
     ", supply.dc_offset_v: is a key of version \"1.1\", and the file says \"1.0\". Write \"format_version\": "
     "\"1.1\""},
    {"SupplyHarmonicsOfALaterVersion", "60}", "60,\"harmonics\":[]}",
     ", supply.harmonics: is a key of version \"1.1\", and the file says \"1.0\""},
    {"VersionAsNumber", "\"1.0\"", "1.0", ", format_version: a text was expected, here is a number"},
    {"NoName", "\"name\":\"Stair\",", "", ", name: is missing"},
    {"EmptyName", "Stair", "", ", name: 1 to 200 bytes without control characters were expected"},
    {"ControlCharacterInName", "Stair", "Sta\\u001bir", ", name: 1 to 200 bytes without control characters"},
    {"UnknownKey", "\"name\"", "\"nmae\":1,\"name\"", ", nmae: is not a known key; the nearest is 'name'"},
    {"UnknownSupplyKey", "frequency_hz", "frequency",
     ", supply.frequency: is not a known key; the nearest is "
     "'frequency_hz'"},
    {"UnknownOutputKey", "\"switch\"", "\"rated_current\":2,\"switch\"",
     ", output.rated_current: is not a known key; the nearest is 'rated_current_a'"},
    {"SupplyIsText", "{\"voltage_v\":120,\"frequency_hz\":60}", "\"mains\"",
     ", supply: an object {...} was expected, here is a string"},
    {"NoMains", "\"supply\":{\"voltage_v\":120,\"frequency_hz\":60},", "", ", supply: is missing"},
    {"NoMainsVoltage", "\"voltage_v\":120,", "", ", supply.voltage_v: is missing. Say what the mains are"},
    {"NoMainsFrequency", ",\"frequency_hz\":60", "", ", supply.frequency_hz: is missing"},
    {"PhaseCutOnDc", "60", "0", ", supply.frequency_hz: a phase_cut output needs an alternating supply"},
    {"VoltageAsText", "120", "\"120 V\"", ", supply.voltage_v: a number was expected, here is a string"},
    {"VoltageNull", "120", "null", ", supply.voltage_v: a number was expected, here is null"},
    {"VoltageNegative", "120", "-120", ", supply.voltage_v: -120 is outside 1 to 1000. Check the unit"},
    {"ToleranceTooLarge", "60}", "60,\"tolerance_percent\":90}", ", supply.tolerance_percent: 90 is outside 0 to 50"},
    {"CableHalf", "\"output\"", "\"cable\":{\"length_m\":3},\"output\"", ", cable.conductor_mm2: is missing"},
    {"CableNegative", "\"output\"", "\"cable\":{\"length_m\":-3,\"conductor_mm2\":1.5},\"output\"",
     ", cable.length_m: -3 is outside 0 to 10000"},
    {"BreakerCurve", "\"output\"", "\"breaker\":{\"curve\":\"K\",\"rating_a\":10},\"output\"",
     ", breaker.curve: \"B\", \"C\" or \"D\" was expected, here is \"K\""},
    {"BreakerRatingMissing", "\"output\"", "\"breaker\":{\"curve\":\"B\"},\"output\"",
     ", breaker.rating_a: is missing"},
    {"NoOutput", "\"output\"", "\"cable\"", ", cable.kind: is not a known key"},
    {"NoKind", "\"kind\":\"phase_cut\",", "", ", output.kind: is missing"},
    {"OtherKind", "phase_cut", "dimmer",
     ", output.kind: \"phase_cut\", \"relay\", \"dc_pwm\" or \"dc_constant_current\" was expected, here is \"dimmer\""},
    {"KindIsNumber", "\"phase_cut\"", "1",
     ", output.kind: \"phase_cut\", \"relay\", \"dc_pwm\" or "
     "\"dc_constant_current\" was expected, here is a number"},
    {"EdgesIsText", "[\"leading\"]", "\"leading\"",
     ", output.edges: a list of \"leading\" or \"trailing\" was expected, here is a string"},
    {"OtherEdge", "[\"leading\"]", "[\"leading\",\"rising\"]",
     ", output.edges[1]: \"leading\" or \"trailing\" was expected, here is \"rising\""},
    {"SameEdgeTwice", "[\"leading\"]", "[\"leading\",\"leading\"]",
     ", output.edges[1]: \"leading\" stands twice in the list"},
    {"NoEdge", "[\"leading\"]", "[]", ", output.edges: a phase_cut output must name the edges it can cut"},
    {"TriacTrailing", "[\"leading\"]", "[\"trailing\"]", ", output.edges: a triac cannot cut the trailing edge"},
    {"EdgesOfARelay", "\"phase_cut\"", "\"relay\"", ", output.edges: only an output of kind phase_cut has edges"},
    {"SwitchForOtherKind", "triac", "relay", ", output.switch: a relay cannot switch an output of kind phase_cut"},
    {"OtherSwitch", "triac", "thyristor",
     ", output.switch: \"triac\", \"mosfet_pair\", \"bridge_mosfet\", \"relay\" or "
     "\"mosfet\" was expected, here is \"thyristor\""},
    {"FlagAsNumber", "\"switch\"", "\"neutral\":1,\"switch\"",
     ", output.neutral: true or false was expected, here is a number"},
    {"FlagAsText", "\"switch\"", "\"zero_cross_turn_on\":\"yes\",\"switch\"",
     ", output.zero_cross_turn_on: true or false was expected, here is a string"},
    {"ChokeInMillihenry", "\"switch\"", "\"choke_h\":2.2,\"switch\"",
     ", output.choke_h: 2.2 is outside 0 to 1. Check "
     "the unit in the name of the key"},
    {"AnglesCrossed", "\"switch\"", "\"min_conduction_deg\":170,\"max_conduction_deg\":30,\"switch\"",
     ", output.min_conduction_deg: 170 must be below max_conduction_deg, which is 30"},
    {"ComplianceCrossed", "\"switch\"", "\"compliance_min_v\":30,\"compliance_max_v\":30,\"switch\"",
     ", output.compliance_min_v: 30 must be below compliance_max_v"},
    {"HotterThanTheJunction", "\"switch\"", "\"ambient_c\":130,\"max_junction_c\":125,\"switch\"",
     ", output.ambient_c: 130 must be below max_junction_c, which is 125"},
};

INSTANTIATE_TEST_SUITE_P(EveryFault, BadChannelFile, ::testing::ValuesIn(bad_files),
                         [](const auto& info) { return std::string(info.param.label); });

constexpr const char* newer = R"({
  "format": "lampload-channel",
  "format_version": "1.1",
  "name": "Changing room",
  "supply": {
    "voltage_v": 230.0,
    "frequency_hz": 50.0,
    "tolerance_percent": 10.0,
    "source_resistance_ohm": 0.0,
    "source_inductance_h": 0.0,
    "dc_offset_v": -1.5,
    "harmonics": [
      {
        "order": 3,
        "percent": 2.5,
        "phase_deg": 0.0
      },
      {
        "order": 40,
        "percent": 0.1,
        "phase_deg": -90.0
      }
    ]
  },
  "cable": {
    "length_m": 25.5,
    "conductor_mm2": 1.5,
    "rated_current_a": 20.0,
    "shared_neutral": true
  },
  "output": {
    "kind": "relay",
    "switch": "relay",
    "derate_from_c": 40.0,
    "edge_time_s": 5e-05,
    "gate_pulse_s": 0.001,
    "pulse_10ms_k_per_w": 0.5,
    "off_leakage_a": 0.0005,
    "zero_cross_sense_v": 20.0,
    "contact_make_a": 120.0,
    "contact_bounce_s": 0.002,
    "contact_operations": 30000.0,
    "min_duty_percent": 1.0,
    "parallel_chains": 2.0
  },
  "limits": {
    "voltage_drop_percent": 3.0,
    "lamp_stress_factor": 2.0,
    "ghosting_percent": 0.1,
    "least_level_percent": 5.0,
    "operations": 20000.0,
    "harmonics": true
  }
}
)";

TEST(ChannelFile, KeysOfTheLaterVersionAreReadAndWrittenBack) {
  const Channel channel = parse_channel(newer, "newer");
  EXPECT_EQ(channel.supply.dc_offset_v, -1.5);
  ASSERT_EQ(channel.supply.harmonics.size(), 2);
  EXPECT_EQ(channel.supply.harmonics[0].order, 3);
  EXPECT_EQ(channel.supply.harmonics[0].percent, 2.5);
  EXPECT_EQ(channel.supply.harmonics[1].phase_deg, -90.0);
  EXPECT_EQ(channel.cable->rated_current_a, 20.0);
  EXPECT_EQ(channel.cable->shared_neutral, true);
  EXPECT_EQ(channel.output.contact_bounce_s, 0.002);
  EXPECT_EQ(channel.output.parallel_chains, 2.0);
  EXPECT_EQ(channel.limits.operations, 20000.0);
  EXPECT_EQ(channel.limits.harmonics, true);
  EXPECT_EQ(channel_json(channel), newer);
}

TEST(ChannelFile, TheOldestVersionThatHasAllKeysIsWritten) {
  std::string text = least;
  text.replace(text.find("1.0"), 3, "1.1");
  Channel channel = parse_channel(text, "least");
  EXPECT_NE(channel_json(channel).find("\"format_version\": \"1.0\""), std::string::npos);
  channel.limits.harmonics = false;
  EXPECT_NE(channel_json(channel).find("\"format_version\": \"1.1\""), std::string::npos);
  channel.limits = {};
  channel.supply.dc_offset_v = 1.0;
  EXPECT_NE(channel_json(channel).find("\"format_version\": \"1.1\""), std::string::npos);
  channel.supply.dc_offset_v = 0.0;
  channel.supply.harmonics = {{5, 2.0}};
  EXPECT_NE(channel_json(channel).find("\"format_version\": \"1.1\""), std::string::npos);
  channel.supply.harmonics = {};
  EXPECT_NE(channel_json(channel).find("\"format_version\": \"1.0\""), std::string::npos);
  channel.cable = Cable{3.0, 1.5, 16.0};
  EXPECT_NE(channel_json(channel).find("\"format_version\": \"1.1\""), std::string::npos);
}

TEST(ChannelFile, HarmonicsOfTheSupplyAreChecked) {
  const auto refused = [](const std::string& list) -> std::string {
    std::string text = least;
    text.replace(text.find("1.0"), 3, "1.1");
    text.replace(text.find("60}"), 3, "60,\"harmonics\":" + list + "}");
    try {
      parse_channel(text, "channel.json");
    } catch (const Error& error) {
      return error.what();
    }
    return "";
  };
  EXPECT_EQ(refused(R"([])"), "");
  EXPECT_EQ(refused(R"([{"order":3,"percent":2},{"order":5,"percent":1,"phase_deg":180}])"), "");
  EXPECT_EQ(refused(R"({"order":3})"),
            "channel.json, supply.harmonics: a list of objects was expected, here is an object");
  EXPECT_EQ(refused(R"([3])"), "channel.json, supply.harmonics[0]: an object {...} was expected, here is a number");
  EXPECT_TRUE(refused(R"([{"percent":2}])").starts_with("channel.json, supply.harmonics[0].order: is missing"));
  EXPECT_TRUE(refused(R"([{"order":3}])").starts_with("channel.json, supply.harmonics[0].percent: is missing"));
  EXPECT_EQ(refused(R"([{"order":2.5,"percent":2}])"),
            "channel.json, supply.harmonics[0].order: a whole number was expected, here is 2.5");
  EXPECT_TRUE(refused(R"([{"order":1,"percent":2}])")
                  .starts_with("channel.json, supply.harmonics[0].order: 1 is outside 2 to 40. Check the unit"));
  EXPECT_EQ(refused(R"([{"order":3,"percent":2},{"order":3,"percent":1}])"),
            "channel.json, supply.harmonics[1].order: 3 stands twice in the list. Give each order once");
  EXPECT_EQ(refused(R"([{"order":3,"percent":2,"phase":1}])"),
            "channel.json, supply.harmonics[0].phase: is not a known key; the nearest is 'phase_deg'");
}

TEST(ChannelFile, ChainsSideBySideAreWhole) {
  std::string text = newer;
  text.replace(text.find("\"parallel_chains\": 2.0"), 22, "\"parallel_chains\": 2.5");
  try {
    parse_channel(text, "channel.json");
    ADD_FAILURE() << "accepted";
  } catch (const Error& error) {
    EXPECT_STREQ(error.what(), "channel.json, output.parallel_chains: a whole number was expected, here is 2.5");
  }
}

TEST(ChannelFile, AnythingLargerThanAMebibyteIsRefused) {
  const std::string padded = std::string(least) + std::string(std::size_t{1} << 20, ' ');
  try {
    parse_channel(padded, "channel.json");
    ADD_FAILURE() << "accepted";
  } catch (const Error& error) {
    EXPECT_EQ(std::string(error.what()), "channel.json: is larger than 1 MiB, the most such a file may have");
  }
}

}  // namespace
}  // namespace lampload::channel_file_test
