// Every command line of the guide runs as it stands.

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "program.h"
#include "tests/places.h"

namespace lampload::test {
namespace {

namespace fs = std::filesystem;

/// The blocks of the guide that start with the program's name, in their order.
std::string commands_of(const fs::path& guide) {
  std::ifstream file(guide);
  std::string commands;
  std::string block;
  bool inside = false;
  for (std::string line; std::getline(file, line);) {
    if (line.starts_with("```")) {
      if (inside && block.starts_with("lampload ")) commands += block;
      inside = !inside;
      block.clear();
    } else if (inside) {
      block += line + "\n";
    }
  }
  return commands;
}

TEST(Guide, EveryCommandLineIsTrue) {
  const fs::path root = test::source_folder();
  const Workplace place;
  fs::create_directory_symlink(root / "sample_captures", place.path("sample_captures"));
  const std::string commands = commands_of(root / "docs" / "guide.md");
  for (const char* command : {"inspect", "characterise", "import", "fit", "recommend", "curve", "simulate", "plan",
                              "compare", "report", "catalogue", "lamps", "show", "remove"}) {
    EXPECT_NE(commands.find(std::string("lampload ") + command), std::string::npos) << command;
  }
  place.write("guide.sh", "set -eu\nexport XDG_DATA_HOME=\"$PWD/data\"\nlampload() { '" + program_path() +
                              "' \"$@\"; }\n" + commands);
  const std::string run = "cd '" + place.path("").string() + "' && bash guide.sh > shown 2> complaints";
  EXPECT_EQ(std::system(run.c_str()), 0) << place.read("complaints");
  EXPECT_EQ(place.read("complaints"), "");
  for (const char* made :
       {"workshop.json", "candle.html", "lamps.html", "schedule.html", "boathouse_lamps/index.html"}) {
    EXPECT_TRUE(fs::exists(place.path(made))) << made;
  }
}

}  // namespace
}  // namespace lampload::test
