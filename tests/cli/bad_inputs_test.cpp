// Whatever is wrong with a file: exit status 3, where and what and what to do, and a library that is as it was.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "bad_inputs.h"
#include "program.h"

namespace lampload::test::bad_inputs_test {
namespace {

class BadInputs : public testing::Test {
 protected:
  void SetUp() override {
    place.write_resistor_capture("kettle.csv");
    ASSERT_EQ(place.run({"import", "kettle.csv", "--lamp", "kettle", "--quiet"}).status, 0);
    before = place.read("data/lampload/library.db");
    ASSERT_FALSE(before.empty());
  }

  void expect_refused(const std::vector<BadInput>& cases, std::size_t at_least) {
    EXPECT_GE(cases.size(), at_least);
    for (const BadInput& bad : cases) {
      SCOPED_TRACE(bad.name);
      for (const auto& [name, bytes] : bad.files) place.write(name, bytes);
      const std::string capture = bad.capture.empty() ? bad.files.front().first : bad.capture;
      // The good one comes first: it must not be kept either.
      std::vector<std::string> words{"import", "kettle.csv", capture, "--lamp", "refused", "--json", "--quiet"};
      const bool alone = !bad.options.empty();
      if (alone) words = {"import", capture, "--lamp", "refused", "--json", "--quiet"};
      words.insert(words.end(), bad.options.begin(), bad.options.end());
      const Outcome outcome = place.run(words);
      EXPECT_EQ(outcome.status, 3) << outcome.out << outcome.err;
      const auto answer = nlohmann::json::parse(outcome.out, nullptr, false);
      if (!answer.is_object() || !answer.contains("error")) {
        ADD_FAILURE() << "no error in " << outcome.out;
        continue;
      }
      const auto& error = answer.at("error");
      const std::string message = error.at("message");
      EXPECT_NE(message.find(bad.message), std::string::npos) << message;
      EXPECT_TRUE(error.at("remedy").is_string() && !error.at("remedy").get<std::string>().empty()) << "no remedy";
      EXPECT_TRUE(error.at("file").is_string()) << "no file";
      if (bad.line > 0) {
        EXPECT_EQ(error.at("line"), bad.line) << message;
      }
      EXPECT_TRUE(place.read("data/lampload/library.db") == before) << "the library was changed";
      for (const auto& [name, bytes] : bad.files) std::filesystem::remove(place.path(name));
    }
  }

  Workplace place;
  std::string before;
};

TEST_F(BadInputs, Tables) { expect_refused(bad_tables(), 88); }
TEST_F(BadInputs, Choices) { expect_refused(bad_choices(), 16); }
TEST_F(BadInputs, LayoutFiles) { expect_refused(bad_layout_files(), 20); }
TEST_F(BadInputs, WavFiles) { expect_refused(bad_wav_files(), 15); }
TEST_F(BadInputs, ComtradeRecords) { expect_refused(bad_comtrade_records(), 18); }
TEST_F(BadInputs, NumpyArrays) { expect_refused(bad_numpy_arrays(), 14); }
TEST_F(BadInputs, OtherForms) { expect_refused(bad_forms(), 19); }
TEST_F(BadInputs, PairsAndPlaces) { expect_refused(bad_pairs(), 10); }

}  // namespace
}  // namespace lampload::test::bad_inputs_test
