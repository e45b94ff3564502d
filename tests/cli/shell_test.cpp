// Completions as the shells ask for them, and the manual page, of the built program.

#include <gtest/gtest.h>

#include <cstdlib>

#include "program.h"
#include "stored_lamp.h"

namespace lampload::test::shell_test {
namespace {

bool there(const std::string& program) {
  return std::system(("command -v " + program + " > /dev/null 2>&1").c_str()) == 0;  // NOLINT: fixed words only
}

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

class Shell : public testing::Test {
 protected:
  void SetUp() override {
    store_lamp(place, "stair candle, clear", "resistor", "", {529.0});
    store_lamp(place, "stair \"candle\" $HOME", "resistor", "", {529.0});
    place.write_dimmer("dimmer.json", "stair dimmer");
    ASSERT_EQ(place.run({"channels", "add", "dimmer.json"}).status, 0);
    for (const char* shell : {"bash", "zsh", "fish"}) place.write(shell, place.run({"completion", shell}).out);
  }
  /// What a shell prints for a script.
  [[nodiscard]] std::string answer(const std::string& shell, const std::string& script) const {
    place.write("script", script);
    const std::string program = program_path();
    const std::string command =
        "cd '" + place.path("").string() + "' && PATH='" + program.substr(0, program.rfind('/')) +
        "':$PATH XDG_DATA_HOME=\"$PWD/data\" HOME=\"$PWD\" " + shell + " ./script > answer 2>&1";
    EXPECT_EQ(std::system(command.c_str()), 0) << place.read("answer");  // NOLINT: fixed words only
    return place.read("answer");
  }
  Workplace place;
};

TEST_F(Shell, BashCompletesCommandsOptionsAndNames) {
  const std::string ask =
      "source ./bash\nask() { COMP_WORDS=(lampload \"$@\"); COMP_CWORD=$#; _lampload; printf '%s|' "
      "\"${COMPREPLY[@]}\"; echo; }\n";
  const auto complete = [&](const std::string& words) { return answer("bash", ask + "ask " + words + "\n"); };
  EXPECT_EQ(complete("characte"), "characterise|\n");
  EXPECT_EQ(complete("channels sh"), "show|\n");
  EXPECT_EQ(complete("spice x --spr"), "--spread|\n");
  EXPECT_EQ(complete("spice \"'stair candle\""), "stair\\ candle\\,\\ clear|\n");
  EXPECT_EQ(complete("show ''"), "stair\\ \\\"candle\\\"\\ \\$HOME|stair\\ candle\\,\\ clear|\n");
  EXPECT_EQ(complete("channels remove ''"), "stair\\ dimmer|\n");
  EXPECT_EQ(complete("curve x --below h"), "hold|\n");
  EXPECT_TRUE(contains(complete("recommend x --channel ''"), "stair\\ dimmer|"));
}

TEST_F(Shell, FishCompletesCommandsOptionsAndNames) {
  ASSERT_TRUE(there("fish")) << "fish is missing: .ci/install test";
  const auto complete = [&](const std::string& line) {
    return answer("fish", "source ./fish\ncomplete -C '" + line + "'\n");
  };
  EXPECT_TRUE(contains(complete("lampload spice "), "stair candle, clear\n"));
  EXPECT_TRUE(contains(complete("lampload channels rem"), "remove\tRemove a channel\n"));
  EXPECT_TRUE(contains(complete("lampload spice x --sp"), "--spread\tDraw the parameters"));
}

// Loaded only: zsh completes on a terminal alone.
TEST_F(Shell, ZshTakesItsCompletion) {
  ASSERT_TRUE(there("zsh")) << "zsh is missing: .ci/install test";
  EXPECT_EQ(answer("zsh", "autoload -U compinit && compinit -u\nsource ./zsh\n"), "");
}

TEST_F(Shell, TheManualPageHasEveryCommand) {
  const std::string page = place.run({"manual"}).out;
  EXPECT_TRUE(page.starts_with(".TH LAMPLOAD 1 "));
  for (const char* part :
       {".SS \"lampload characterise", ".SS \"lampload channels add", ".SS \"lampload library salvage",
        ".B \\-\\-current\\-delay SECONDS\n", "CAUTION: mains voltage kills."}) {
    EXPECT_TRUE(contains(page, part)) << part;
  }
}

TEST_F(Shell, TheManualPageIsCleanTroff) {
  ASSERT_TRUE(there("groff")) << "groff is missing: .ci/install test";
  place.write("page", place.run({"manual"}).out);
  EXPECT_EQ(answer("bash", "groff -ww -man -Tutf8 page > /dev/null\n"), "");
}

}  // namespace
}  // namespace lampload::test::shell_test
