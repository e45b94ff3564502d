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

struct RemoveOptions {
  std::string lamp;
  bool yes = false;
  LibraryOption library;
  OutputOptions output;
};

int remove_lamp(const RemoveOptions& options) {
  Library library = options.library.open_existing(Library::Access::read_write);
  const LampRecord lamp = library.lamp(options.lamp);
  const std::string what =
      fmt::format("{} with {} and {}", lamp.name, counted(static_cast<int>(lamp.captures.size()), "capture"),
                  counted(lamp.fits, "fit"));
  const bool agreed = confirmed("Remove " + what + "?", options.yes);
  if (agreed) library.remove_lamp(lamp.name);
  if (options.output.json) {
    fmt::print("{}", names_json("removed", agreed ? std::vector<std::string>{lamp.name} : std::vector<std::string>{}));
  } else {
    Screen(stdout).paragraph(agreed ? "removed " + what : "kept " + what);
  }
  return 0;
}

}  // namespace

void add_remove(Command& program) {
  auto options = std::make_shared<RemoveOptions>();
  Command command = program.command("remove", "Remove a lamp with its captures and fits");
  add_lamp_name(command, "lamp", options->lamp, "Lamp in the library");
  command.flag("--yes", options->yes, "Do not ask; needed where there is no terminal");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload remove 'changing-room fan'\n"
      "  lampload remove 'changing-room fan' --yes");
  command.runs([options] { return remove_lamp(*options); });
}

}  // namespace lampload
