// Canonical JSON and signatures against the published values.

#include <gtest/gtest.h>

#include <bit>
#include <string>

#include "core/error.h"
#include "db/canonical_json.h"
#include "db/signature.h"

namespace lampload::canonical_json_test {
namespace {

using json::Json;

// RFC 8785, appendix B, "Number Serialization Samples": every finite row.
TEST(CanonicalJson, WritesNumbersAsInAppendixB) {
  struct Row {
    std::uint64_t bits;
    const char* text;
  };
  constexpr Row rows[] = {
      {0x0000000000000000, "0"},
      {0x8000000000000000, "0"},
      {0x0000000000000001, "5e-324"},
      {0x8000000000000001, "-5e-324"},
      {0x7fefffffffffffff, "1.7976931348623157e+308"},
      {0xffefffffffffffff, "-1.7976931348623157e+308"},
      {0x4340000000000000, "9007199254740992"},
      {0xc340000000000000, "-9007199254740992"},
      {0x4430000000000000, "295147905179352830000"},
      {0x44b52d02c7e14af5, "9.999999999999997e+22"},
      {0x44b52d02c7e14af6, "1e+23"},
      {0x44b52d02c7e14af7, "1.0000000000000001e+23"},
      {0x444b1ae4d6e2ef4e, "999999999999999700000"},
      {0x444b1ae4d6e2ef4f, "999999999999999900000"},
      {0x444b1ae4d6e2ef50, "1e+21"},
      {0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
      {0x3eb0c6f7a0b5ed8d, "0.000001"},
      {0x41b3de4355555553, "333333333.3333332"},
      {0x41b3de4355555554, "333333333.33333325"},
      {0x41b3de4355555555, "333333333.3333333"},
      {0x41b3de4355555556, "333333333.3333334"},
      {0x41b3de4355555557, "333333333.33333343"},
      {0xbecbf647612f3696, "-0.0000033333333333333333"},
      {0x43143ff3c1cb0959, "1424953923781206.2"},
  };
  for (const Row& row : rows) EXPECT_EQ(json::canonical_number(std::bit_cast<double>(row.bits)), row.text);
  // The same appendix: NaN and Infinity must be refused.
  for (const std::uint64_t bits : {0x7fffffffffffffffULL, 0x7ff0000000000000ULL}) {
    EXPECT_THROW((void)json::canonical_number(std::bit_cast<double>(bits)), Error);
  }
}

// RFC 8785, 3.2.2 with its result in 3.2.3 (the same pair is "values.json" of the RFC author's test data).
TEST(CanonicalJson, WritesTheExampleOfTheRfc) {
  const Json value = Json::parse(R"({
    "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
    "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
    "literals": [null, true, false]
  })");
  EXPECT_EQ(json::canonical(value),
            "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],"
            "\"string\":\"\u20ac$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}");
}

// RFC 8785, 3.2.3: keys by UTF-16 code units; the emoji's surrogate goes before U+FB33.
TEST(CanonicalJson, SortsKeysAsTheExampleOfTheRfc) {
  const Json value = Json::parse(R"({
    "\u20ac": "Euro Sign", "\r": "Carriage Return", "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One",
    "\ud83d\ude00": "Emoji: Grinning Face", "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"
  })");
  EXPECT_EQ(
      json::canonical(value),
      "{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\xC2\x80\":\"Control\",\"\u00f6\":\"Latin Small Letter O With "
      "Diaeresis\",\"\u20ac\":\"Euro Sign\",\"\U0001F600\":\"Emoji: Grinning Face\",\"\uFB33\":\"Hebrew Letter "
      "Dalet With Dagesh\"}");
}

TEST(CanonicalJson, LaysOutTheSameOverLines) {
  const Json value = Json::parse(R"({"b":[1,2],"a":{"d":[],"c":[{"x":1}],"e":{}}})");
  EXPECT_EQ(json::laid_out(value), R"({
  "a": {
    "c": [
      {
        "x": 1
      }
    ],
    "d": [],
    "e": {}
  },
  "b": [1, 2]
}
)");
  EXPECT_EQ(json::canonical(Json::parse(json::laid_out(value))), json::canonical(value));
}

// RFC 8032, 7.1, tests 1 to 3.
TEST(Signature, GivesThePublishedValues) {
  struct Row {
    const char* secret;
    const char* open;
    std::string message;
    const char* signature;
  };
  const Row rows[] = {
      {"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
       "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
       "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe2"
       "4655141438e7a100b"},
      {"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
       "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "\x72",
       "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302ae"
       "eb00d291612bb0c00"},
      {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
       "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "\xaf\x82",
       "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28"
       "dc027beceea1ec40a"},
  };
  for (const Row& row : rows) {
    const SecretKey key(row.secret);
    EXPECT_EQ(key.public_key(), row.open);
    EXPECT_EQ(key.sign(row.message), row.signature);
    EXPECT_TRUE(signature_holds(row.open, row.message, row.signature));
    EXPECT_FALSE(signature_holds(row.open, row.message + "x", row.signature));
    std::string other = row.signature;
    other[5] = other[5] == '0' ? '1' : '0';
    EXPECT_FALSE(signature_holds(row.open, row.message, other));
  }
  EXPECT_FALSE(signature_holds("d75a", "", rows[0].signature));
}

}  // namespace
}  // namespace lampload::canonical_json_test
