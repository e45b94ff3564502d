// Help is where a person starts: every command shows examples, and the measuring ones the cautions.

#include <gtest/gtest.h>

#include <cctype>

#include "program.h"

namespace lampload::test::help_test {
namespace {

const std::vector<std::vector<std::string>> all_commands = {
    {},
    {"inspect"},
    {"characterise"},
    {"import"},
    {"fit"},
    {"recommend"},
    {"curve"},
    {"simulate"},
    {"compare"},
    {"plan"},
    {"report"},
    {"catalogue"},
    {"lamps"},
    {"show"},
    {"remove"},
    {"channels"},
    {"channels", "list"},
    {"channels", "add"},
    {"channels", "show"},
    {"channels", "remove"},
};

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
  return count;
}

TEST(Help, EveryCommandShowsTwoExamplesOfItself) {
  const Workplace place;
  for (std::vector<std::string> words : all_commands) {
    std::string command = "  lampload";
    for (const std::string& word : words) command += " " + word;
    words.push_back("--help");
    const Outcome outcome = place.run(words);
    EXPECT_EQ(outcome.status, 0) << command;
    EXPECT_GE(count_of(outcome.out, "\n" + command), 2U) << outcome.out;
    EXPECT_EQ(outcome.err, "") << command;
  }
}

TEST(Help, MeasuringCommandsShowTheCautions) {
  const Workplace place;
  for (const char* command : {"inspect", "characterise", "import", "compare"}) {
    const std::string help = place.run({command, "--help"}).out;
    for (const char* words : {"isolated or differential probes", "measurement category", "grounded scope clip",
                              "discharge", "residual-current device", "one hand", "Local codes"}) {
      std::string lower = help;
      for (char& c : lower) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
      std::string wanted = words;
      for (char& c : wanted) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
      // The help is wrapped by hand: compare with single blanks.
      std::string single;
      for (const char c : lower) {
        const char blank = c == '\n' ? ' ' : c;
        if (blank != ' ' || single.empty() || single.back() != ' ') single += blank;
      }
      EXPECT_TRUE(contains(single, wanted)) << command << ": " << words;
    }
  }
}

TEST(Help, CaptureOptionsAreAllThere) {
  const Workplace place;
  for (const char* command : {"inspect", "characterise", "import"}) {
    const std::string help = place.run({command, "--help"}).out;
    for (const char* option : {"--time-column", "--voltage-column", "--current-column", "--voltage-scale",
                               "--current-scale", "--voltage-offset", "--current-offset", "--invert-current",
                               "--current-delay", "--sample-interval", "--nominal-voltage", "--nominal-frequency",
                               "--rated-power", "--cold-resistance", "--label-dimmable", "--json", "--quiet"}) {
      EXPECT_TRUE(contains(help, option)) << command << " " << option;
    }
  }
}

TEST(Help, NoLineIsWiderThanATerminal) {
  const Workplace place;
  const std::string help = place.run({"characterise", "--help"}).out;
  std::size_t start = 0;
  while (start < help.size()) {
    const std::size_t end = std::min(help.find('\n', start), help.size());
    EXPECT_LE(end - start, 120U) << help.substr(start, end - start);
    start = end + 1;
  }
}

TEST(Help, VersionTellsWhatItWasBuiltWith) {
  const Outcome outcome = Workplace().run({"--version"});
  EXPECT_EQ(outcome.status, 0);
  EXPECT_TRUE(outcome.out.starts_with("lampload "));
  EXPECT_EQ(count_of(outcome.out, "\n"), 2U) << outcome.out;
  EXPECT_TRUE(contains(outcome.out, "\nbuilt with ")) << outcome.out;
  for (const char* part : {"Ceres ", "Eigen ", "Boost ", "fmt ", "SQLiteCpp ", "zstd ", "libsodium "}) {
    const std::size_t at = outcome.out.find(part);
    ASSERT_NE(at, std::string::npos) << part;
    EXPECT_NE(std::isdigit(static_cast<unsigned char>(outcome.out[at + std::string(part).size()])), 0)
        << part << "has no version: " << outcome.out;
  }
}

}  // namespace
}  // namespace lampload::test::help_test
