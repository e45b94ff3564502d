#include "db/nearest.h"

#include <gtest/gtest.h>

namespace lampload::nearest_test {
namespace {

const std::vector<std::string> boathouse = {"Clubroom pendant", "Stair candle", "Workshop batten", "Boat rack strip"};

TEST(Nearest, OneSlipOfTheFingerFindsTheName) {
  EXPECT_EQ(nearest_names("stair cnadle", boathouse), std::vector<std::string>{"Stair candle"});
}

TEST(Nearest, APartOfTheNameIsNear) {
  EXPECT_EQ(nearest_names("pendant", boathouse), std::vector<std::string>{"Clubroom pendant"});
}

TEST(Nearest, FarNamesAreNotOffered) { EXPECT_TRUE(nearest_names("xyzzy", boathouse).empty()); }

TEST(Nearest, OrderIsByDistanceThenByName) {
  const std::vector<std::string> known = {"lamp c", "lamp b", "lamb a"};
  EXPECT_EQ(nearest_names("lamp a", known), (std::vector<std::string>{"lamb a", "lamp b", "lamp c"}));
  EXPECT_EQ(nearest_names("lamp a", known, 1), std::vector<std::string>{"lamb a"});
}

TEST(Nearest, SentenceFallsBackToWhatThereIs) {
  EXPECT_EQ(nearest_sentence("Stair candel", boathouse, ""), "the nearest is 'Stair candle'");
  EXPECT_EQ(nearest_sentence("xyzzy", std::vector<std::string>{"a lamp"}, ""), "there is 'a lamp'");
  EXPECT_EQ(nearest_sentence("xyzzy", {}, "it holds no lamp yet"), "it holds no lamp yet");
}

}  // namespace
}  // namespace lampload::nearest_test
