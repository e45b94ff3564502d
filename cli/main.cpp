#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <exception>
#include <string_view>

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

std::string help_to_read(const CLI::App& program) {
  std::string words = "lampload";
  for (const CLI::App* app = &program; !app->get_subcommands().empty();) {
    app = app->get_subcommands().front();
    words += " " + app->get_name();
  }
  return "'" + words + " --help' shows what is understood";
}

/// The last command read wants another one after it.
bool lacks_command(const CLI::App& program) {
  const CLI::App* app = &program;
  while (!app->get_subcommands().empty()) app = app->get_subcommands().front();
  return app->get_require_subcommand_min() > 0;
}

int run(int argc, char** argv) {
  CLI::App program{"Lamp loads from scope captures: equivalent circuit, dimming mode, lamp count.", "lampload"};
  Job job;
  program.set_version_flag("--version", fmt::format("lampload {}", program_version), "Print the version");
  program.require_subcommand(1);
  add_inspect(program, job);
  add_characterise(program, job);
  add_import(program, job);
  add_fit(program, job);
  add_recommend(program, job);
  add_lamps(program, job);
  add_show(program, job);
  add_remove(program, job);
  add_channels(program, job);
  program.footer(help_with_cautions(
      "Examples:\n"
      "  lampload inspect pendant_steady.csv\n"
      "  lampload characterise pendant_steady.csv pendant_turn_on.csv --lamp 'clubroom pendant' \\\n"
      "    --channel clubroom_dimmer.json\n"
      "  lampload recommend 'clubroom pendant' --channel 'stair dimmer'\n\n"
      "'lampload COMMAND --help' shows a command's options and examples.\n"
      "Exit status: 0 done; 1 done, and the answer is that it does not hold; 2 usage; 3 input refused;\n"
      "4 not in the library; 5 the library could not be read or written."));
  try {
    program.parse(argc, argv);
  } catch (const CLI::Success& asked_for_help) {
    return program.exit(asked_for_help);
  } catch (const CLI::ParseError& error) {
    const std::vector<std::string> unread = program.remaining(true);
    std::string fault = error.what();
    if (lacks_command(program)) {
      const std::string kind = !unread.empty() && unread.front().starts_with('-') ? "option" : "command";
      fault = unread.empty() ? "a command is expected" : "there is no " + kind + " '" + unread.front() + "'";
    }
    throw Error(ErrorCode::usage, fault, Place{}, help_to_read(program));
  }
  return job();
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
