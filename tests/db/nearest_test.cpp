#include "db/nearest.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>
#include <string>
#include <vector>

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

// Against the plain recurrence, which knows no limit and gives nothing up early.
TEST(Nearest, DistancesAreThoseOfThePlainRecurrence) {
  const auto plain = [](const std::string& a, const std::string& b) {
    std::vector<std::vector<std::size_t>> edits(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
    for (std::size_t i = 0; i <= a.size(); ++i) {
      for (std::size_t j = 0; j <= b.size(); ++j) {
        if (i == 0 || j == 0) {
          edits[i][j] = i + j;
        } else {
          edits[i][j] = std::min(
              {edits[i - 1][j] + 1, edits[i][j - 1] + 1, edits[i - 1][j - 1] + (a[i - 1] == b[j - 1] ? 0U : 1U)});
        }
      }
    }
    return edits[a.size()][b.size()];
  };
  std::minstd_rand chance(7);
  for (int trial = 0; trial < 3000; ++trial) {
    std::string words[2];
    for (std::string& word : words) {
      for (auto left = chance() % 12; left > 0; --left) word += static_cast<char>('a' + chance() % 4);
    }
    const std::size_t edits = plain(words[0], words[1]);
    const bool contained = !words[0].empty() && words[1].find(words[0]) != std::string::npos;
    const bool near = contained || edits <= std::max<std::size_t>(2, words[0].size() / 2);
    EXPECT_EQ(NearTo(words[0]).distance(words[1]), near ? std::optional(contained ? 1U : edits) : std::nullopt)
        << words[0] << " " << words[1];
  }
}

TEST(Nearest, SentenceFallsBackToWhatThereIs) {
  EXPECT_EQ(nearest_sentence("Stair candel", boathouse, ""), "the nearest is 'Stair candle'");
  EXPECT_EQ(nearest_sentence("xyzzy", std::vector<std::string>{"a lamp"}, ""), "there is 'a lamp'");
  EXPECT_EQ(nearest_sentence("xyzzy", {}, "it holds no lamp yet"), "it holds no lamp yet");
}

}  // namespace
}  // namespace lampload::nearest_test
