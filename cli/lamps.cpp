#include <fmt/format.h>

#include <memory>

#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/quantity.h"
#include "cli/terminal.h"
#include "db/library.h"

namespace lampload {
namespace {

struct LampsOptions {
  std::string part;
  LibraryOption library;
  OutputOptions output;
};

int list_lamps(const LampsOptions& options) {
  std::vector<LampSummary> lamps;
  if (!options.library.holds_nothing_yet()) {
    lamps = Library::open(options.library.path(), Library::Access::read_only).lamps(options.part);
  }
  if (options.output.json) {
    fmt::print("{}", lamps_json(lamps));
    return 0;
  }
  Screen screen(stdout);
  if (lamps.empty()) {
    screen.line(options.part.empty() ? "No lamps are stored yet; 'lampload characterise' stores one."
                                     : "No lamp's name holds that text.");
    return 0;
  }
  Table table({"lamp", "family", "power", "captures", "fits", "last change"});
  for (const LampSummary& lamp : lamps) {
    std::string family = lamp.family.empty() ? "-" : spoken(lamp.family);
    if (!lamp.load_law.empty()) family += ", " + spoken(lamp.load_law);
    table.add({lamp.name, family, lamp.power_w ? quantity(*lamp.power_w, "W", 3) : "-", std::to_string(lamp.captures),
               std::to_string(lamp.fits), lamp.time_utc});
  }
  screen.table(table);
  return 0;
}

}  // namespace

void add_lamps(Command& program) {
  auto options = std::make_shared<LampsOptions>();
  Command command = program.command("lamps", "List the lamps of the library");
  command.option("text", options->part, "Only lamps whose name holds this text").shown_as("TEXT");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload lamps\n"
      "  lampload lamps candle\n"
      "  lampload lamps --json --library boathouse.lampload");
  command.runs([options] { return list_lamps(*options); });
}

}  // namespace lampload
