#include "cli/command_line.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <CLI/CLI.hpp>
#include <algorithm>

#include "core/error.h"
#include "db/nearest.h"

namespace lampload {
namespace {

/// The last command that was read.
const CLI::App& innermost(const CLI::App& program) {
  const CLI::App* app = &program;
  while (!app->get_subcommands().empty()) app = app->get_subcommands().front();
  return *app;
}

std::string help_to_read(const CLI::App& program) {
  std::string words = program.get_name();
  for (const CLI::App* app = &program; !app->get_subcommands().empty();) {
    app = app->get_subcommands().front();
    words += " " + app->get_name();
  }
  return "'" + words + " --help' shows what is understood";
}

std::vector<std::string> commands_of(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    names.push_back(command->get_name());
  }
  return names;
}

std::vector<std::string> options_of(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::Option* option : app.get_options()) {
    for (const std::string& name : option->get_lnames()) names.push_back(name);
  }
  return names;
}

std::string without_dashes(const std::string& option) {
  return option.substr(std::min(option.find_first_not_of('-'), option.size()));
}

/// "; the nearest is 'lamps'", or nothing where nothing is near.
std::string near_to(const std::string& asked, const std::vector<std::string>& known, const std::string& dashes = "") {
  const std::vector<std::string> near = nearest_names(asked, known, 1);
  return near.empty() ? "" : "; the nearest is '" + dashes + near.front() + "'";
}

/// The same for options. Their dashes make no two of them alike.
std::string near_to_option(const std::string& asked, const CLI::App& command) {
  return near_to(without_dashes(asked.substr(0, asked.find('='))), options_of(command), "--");
}

std::string fault_of(const CLI::App& program, const CLI::ParseError& error) {
  const CLI::App& command = innermost(program);
  const std::vector<std::string> unread = program.remaining(true);
  if (command.get_require_subcommand_min() > 0) {
    if (unread.empty()) return "a command is expected";
    const std::string& first = unread.front();
    if (first.starts_with('-')) return "there is no option '" + first + "'" + near_to_option(first, command);
    return "there is no command '" + first + "'" + near_to(first, commands_of(command));
  }
  const auto option =
      std::find_if(unread.begin(), unread.end(), [](const std::string& word) { return word.starts_with('-'); });
  if (option == unread.end()) return error.what();
  const std::string near = near_to_option(*option, command);
  if (near.empty()) return error.what();
  // Something required may be missing just because its name is mistyped.
  const bool named = std::string_view(error.what()).find(*option) != std::string_view::npos;
  return error.what() + (named ? near : "; there is no option '" + *option + "'" + near);
}

DescribedCommand described(const CLI::App& app) {
  DescribedCommand command{app.get_name(), app.get_description(), app.get_footer(), {}, {}};
  for (const CLI::Option* option : app.get_options()) {
    DescribedOption one;
    for (const std::string& name : option->get_snames()) one.names.push_back("-" + name);
    for (const std::string& name : option->get_lnames()) one.names.push_back("--" + name);
    if (one.names.empty()) one.names.push_back(option->get_name(true));
    if (option->get_items_expected_max() > 0) one.value = option->get_option_text();
    if (option->get_items_expected_max() > 0 && one.value.empty()) one.value = "VALUE";
    one.meaning = option->get_description();
    command.options.push_back(one);
  }
  for (const CLI::App* below : app.get_subcommands([](const CLI::App* one) { return !one->get_group().empty(); })) {
    command.commands.push_back(described(*below));
  }
  return command;
}

}  // namespace

Option& Option::required() {
  option_->required();
  return *this;
}

Option& Option::shown_as(const std::string& value) {
  option_->option_text(value);
  return *this;
}

Option& Option::under(const std::string& heading) {
  option_->group(heading);
  return *this;
}

Option& Option::check(const Check& fault_of) {
  option_->check(fault_of);
  return *this;
}

Option& Option::one_of(const std::vector<std::string>& words) {
  return check([words](const std::string& value) {
    if (std::find(words.begin(), words.end(), value) != words.end()) return std::string();
    return fmt::format("'{}' is none of {}", value, fmt::join(words, ", "));
  });
}

Command Command::command(const std::string& name, const std::string& meaning) {
  app_->require_subcommand(1);
  return {*app_->add_subcommand(name, meaning), *chosen_};
}

Option Command::option(const std::string& name, std::string& value, const std::string& meaning) {
  return Option(*app_->add_option(name, value, meaning));
}

Option Command::option(const std::string& name, std::optional<std::string>& value, const std::string& meaning) {
  return Option(*app_->add_option(name, value, meaning));
}

Option Command::option(const std::string& name, std::vector<std::string>& values, const std::string& meaning) {
  CLI::Option* option = app_->add_option(name, values, meaning);
  if (name.starts_with('-')) option->expected(1)->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
  return Option(*option);
}

Option Command::option(const std::string& name, double& value, const std::string& meaning) {
  return Option(*app_->add_option(name, value, meaning));
}

Option Command::option(const std::string& name, std::optional<double>& value, const std::string& meaning) {
  return Option(*app_->add_option(name, value, meaning));
}

Option Command::option(const std::string& name, const std::function<void(const std::string&)>& set,
                       const std::string& meaning) {
  return Option(*app_->add_option_function<std::string>(name, set, meaning));
}

Option Command::flag(const std::string& name, bool& value, const std::string& meaning) {
  return Option(*app_->add_flag(name, value, meaning));
}

void Command::footer(const std::string& text) { app_->footer(text); }

void Command::runs(const Job& job) {
  app_->callback([job, chosen = chosen_] { *chosen = job; });
}

void Command::hidden() { app_->group(""); }

DescribedCommand Command::description() const { return described(*app_); }

CommandLine::CommandLine(const std::string& program, const std::string& meaning, const std::string& version)
    : app_(std::make_unique<CLI::App>(meaning, program)) {
  app_->set_version_flag("--version", version, "Print the version");
}

CommandLine::~CommandLine() = default;

Command CommandLine::program() { return {*app_, chosen_}; }

Job CommandLine::read(int argc, char** argv) {
  try {
    app_->parse(argc, argv);
  } catch (const CLI::Success& asked_for_help) {
    return [status = app_->exit(asked_for_help)] { return status; };
  } catch (const CLI::ParseError& error) {
    throw Error(ErrorCode::usage, fault_of(*app_, error), Place{}, help_to_read(*app_));
  }
  return chosen_;
}

}  // namespace lampload
