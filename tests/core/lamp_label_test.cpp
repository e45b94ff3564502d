// Designations of lamp caps.

#include "core/lamp/label.h"

#include <gtest/gtest.h>

namespace lampload::lamp_label_test {
namespace {

// Examples that IEC 60061-4 gives for its rules, and caps of IEC 60061-1 in everyday use.
TEST(LampBase, WhatIec60061WritesIsTaken) {
  for (const char* base : {"E26d", "G10q",       "B22d-3",    "PG22-6.35",  "B15d/19", "BY22d",   "GY16", "PGJ13",
                           "2G13", "EP10/14x11", "BAY15d/19", "K59d/80x63", "R17d",    "SV8.5-8", "E14",  "E27",
                           "E40",  "B22d",       "GU10",      "GU5.3",      "G4",      "G9",      "G13",  "R7s",
                           "Fa8",  "W2.1x9.5d",  "GX24q-3",   "2G11",       "GY6.35",  "none"}) {
    EXPECT_EQ(fault_of_base(base), "") << base;
  }
}

TEST(LampBase, OtherTextsAreToldWhatMayBeMeant) {
  struct Slip {
    const char* text;
    const char* meant;
  };
  for (const Slip& slip : {Slip{"e27", "E27"}, Slip{"gu10", "GU10"}, Slip{"B22D", "B22d"}, Slip{"GU 5.3", "GU5.3"},
                           Slip{"gx24Q-3", "GX24q-3"}}) {
    EXPECT_NE(fault_of_base(slip.text).find("; '" + std::string(slip.meant) + "' may be meant"), std::string::npos)
        << fault_of_base(slip.text);
  }
  for (const char* text : {"", "27", "E", "screw", "E27\n", "E27-", "E1234", "GU10 halogen", "Edison27", "E27ss"}) {
    EXPECT_NE(fault_of_base(text).find("is no lamp base as IEC 60061 writes them"), std::string::npos) << text;
  }
}

TEST(LampTechnology, IsOneOfAList) {
  EXPECT_EQ(fault_of_technology("LED"), "'LED' is no technology; 'led' may be meant");
  EXPECT_EQ(fault_of_technology("compact_fluorescent"), "");
  EXPECT_NE(fault_of_technology("lantern").find("'lantern' is no technology; known are incandescent, halogen, led"),
            std::string::npos);
}

}  // namespace
}  // namespace lampload::lamp_label_test
