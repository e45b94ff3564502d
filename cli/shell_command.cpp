#include <fmt/format.h>

#include <memory>

#include "cli/commands.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/shell_text.h"
#include "cli/terminal.h"
#include "cli/version.h"
#include "db/library.h"

namespace lampload {
namespace {

struct ShellOptions {
  std::string word;
  LibraryOption library;
};

int print_completion(const Command& program, const std::string& shell) {
  const DescribedCommand described = program.description();
  write_output("", shell == "bash"  ? bash_completion(described)
                   : shell == "zsh" ? zsh_completion(described)
                                    : fish_completion(described));
  return 0;
}

/// One to a line; names that hold what a shell's line cannot are left out. A library that cannot be read offers none.
int print_names(const ShellOptions& options) {
  if (options.library.holds_nothing_yet()) return 0;
  const Library library = options.library.open_existing(Library::Access::read_only);
  std::string text;
  const auto add = [&](const std::string& name) {
    if (printable(name) == name) text += name + "\n";
  };
  if (options.word == "lamps") {
    for (const LampSummary& lamp : library.lamps()) add(lamp.name);
  } else {
    for (const Channel& channel : library.channels()) add(channel.name);
  }
  write_output("", text);
  return 0;
}

}  // namespace

void add_shell(Command& program) {
  auto options = std::make_shared<ShellOptions>();
  Command completion = program.command("completion", "Print what makes a shell complete commands, options and names");
  completion.option("shell", options->word, "bash, zsh or fish")
      .required()
      .one_of({"bash", "zsh", "fish"})
      .shown_as("bash|zsh|fish");
  completion.footer(
      "Examples:\n"
      "  source <(lampload completion bash)\n"
      "  lampload completion zsh > ~/.zfunc/_lampload\n"
      "  lampload completion fish > ~/.config/fish/completions/lampload.fish");
  completion.runs([options, program] { return print_completion(program, options->word); });

  Command names = program.command("names", "Print the names of lamps or channels, for completions");
  names.option("what", options->word, "lamps or channels")
      .required()
      .one_of({"lamps", "channels"})
      .shown_as("lamps|channels");
  add_library_option(names, options->library);
  names.footer("Examples:\n  lampload names lamps");
  names.runs([options] { return print_names(*options); });
  names.hidden();

  Command manual = program.command("manual", "Print the manual page");
  manual.footer("Examples:\n  lampload manual | man -l -");
  manual.runs([program] {
    write_output("", manual_page(program.description(), program_version));
    return 0;
  });
}

}  // namespace lampload
