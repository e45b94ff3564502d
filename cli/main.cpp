#include <fmt/format.h>

#include <exception>
#include <string_view>

#include "cli/built_with.h"
#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/terminal.h"
#include "cli/version.h"
#include "core/error.h"

namespace lampload {
namespace {

/// Errors of the command line itself have to answer in JSON too, before any option is read.
bool wants_json(int argc, char** argv) {
  for (int i = 1; i < argc && std::string_view(argv[i]) != "--"; ++i) {
    if (std::string_view(argv[i]) == "--json") return true;
  }
  return false;
}

int run(int argc, char** argv) {
  CommandLine line("lampload", "Lamp loads from scope captures: equivalent circuit, dimming mode, lamp count.",
                   fmt::format("lampload {}\nbuilt with {}", program_version, built_with));
  Command program = line.program();
  add_inspect(program);
  add_characterise(program);
  add_import(program);
  add_fit(program);
  add_recommend(program);
  add_curve(program);
  add_simulate(program);
  add_compare(program);
  add_plan(program);
  add_report(program);
  add_spice(program);
  add_catalogue(program);
  add_lamps(program);
  add_show(program);
  add_remove(program);
  add_channels(program);
  add_library(program);
  add_share(program);
  add_receive(program);
  add_keys(program);
  add_shell(program);
  program.footer(help_with_cautions(
      "Examples:\n"
      "  lampload inspect pendant_steady.csv\n"
      "  lampload characterise pendant_steady.csv pendant_turn_on.csv --lamp 'clubroom pendant' \\\n"
      "    --channel clubroom_dimmer.json\n"
      "  lampload recommend 'clubroom pendant' --channel 'stair dimmer'\n"
      "  lampload plan boathouse_plan.json\n\n"
      "'lampload COMMAND --help' shows a command's options and examples.\n"
      "Exit status: 0 done; 1 done, and the answer is that it does not hold; 2 usage; 3 input refused;\n"
      "4 not in the library; 5 the library could not be read or written."));
  return line.read(argc, argv)();
}

int answer(const Error& error, bool json) {
  if (json) {
    fmt::print("{}", error_json(error));
  } else {
    Screen(stderr).line(fmt::format("lampload: {}", error.what()), Style::bad);
  }
  return exit_status(error.code());
}

int answer_of(int argc, char** argv) {
  const bool json = wants_json(argc, argv);
  try {
    return run(argc, argv);
  } catch (const Error& error) {
    return answer(error, json);
  } catch (const std::exception& error) {
    return answer(Error(ErrorCode::calculation, error.what()), json);
  }
}

}  // namespace
}  // namespace lampload

int main(int argc, char** argv) {
  const int status = lampload::answer_of(argc, argv);
  if (std::fflush(stdout) != 0) {
    fmt::print(stderr, "lampload: standard output could not be written\n");
    return lampload::exit_status(lampload::ErrorCode::library);
  }
  return status;
}
