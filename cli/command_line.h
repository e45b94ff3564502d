#pragma once
// What the program understands on its command line: commands, their options and arguments, and what then runs. The only
// header for it, because the library behind it takes seconds in every file that sees it.

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace lampload {

/// What the command line asked for, ready to run. Returns the exit status; throws Error.
using Job = std::function<int()>;

/// Says what is wrong with a value; nothing where it will do.
using Check = std::function<std::string(const std::string& value)>;

/// What has been described, for other uses than reading a command line: completions, the manual page.
struct DescribedOption {
  std::vector<std::string> names;  ///< with their dashes; of an argument one, without
  std::string value;               ///< what stands for its value; empty: it takes none
  std::string meaning;
  [[nodiscard]] bool argument() const { return !names.front().starts_with('-'); }
};
struct DescribedCommand {
  std::string name;
  std::string meaning;
  std::string footer;
  std::vector<DescribedOption> options;
  std::vector<DescribedCommand> commands;
};

/// An option or argument, while it is being described.
class Option {
 public:
  explicit Option(CLI::Option& option) : option_(&option) {}

  Option& required();
  /// What stands for its value in the help, such as "FILE".
  Option& shown_as(const std::string& value);
  /// The heading under which the help lists it.
  Option& under(const std::string& heading);
  Option& check(const Check& fault_of);
  Option& one_of(const std::vector<std::string>& words);

 private:
  CLI::Option* option_;
};

/// A command, while it is being described. Names with dashes are options, others are arguments by their place. What is
/// filled has to outlive the reading of the command line.
class Command {
 public:
  Command(CLI::App& app, Job& chosen) : app_(&app), chosen_(&chosen) {}

  /// A command below this one, which from then on wants one of them named.
  Command command(const std::string& name, const std::string& meaning);
  Option option(const std::string& name, std::string& value, const std::string& meaning);
  Option option(const std::string& name, std::optional<std::string>& value, const std::string& meaning);
  /// As an argument all that follow; as an option one each time it is given.
  Option option(const std::string& name, std::vector<std::string>& values, const std::string& meaning);
  Option option(const std::string& name, double& value, const std::string& meaning);
  Option option(const std::string& name, std::optional<double>& value, const std::string& meaning);
  /// For a word that means something else than itself; called where it is given.
  Option option(const std::string& name, const std::function<void(const std::string&)>& set,
                const std::string& meaning);
  Option flag(const std::string& name, bool& value, const std::string& meaning);
  /// The end of the help.
  void footer(const std::string& text);
  /// What is to be done when this command is the one that was asked for.
  void runs(const Job& job);
  /// Not listed in the help.
  void hidden();
  /// This one and those below it, as they are described at the moment.
  [[nodiscard]] DescribedCommand description() const;

 private:
  CLI::App* app_;
  Job* chosen_;
};

class CommandLine {
 public:
  CommandLine(const std::string& program, const std::string& meaning, const std::string& version);
  ~CommandLine();
  CommandLine(const CommandLine&) = delete;
  CommandLine& operator=(const CommandLine&) = delete;

  Command program();
  /// What was asked for. Help and version are printed here. Throws Error{usage}, which names what is near to a command
  /// or option that there is not.
  Job read(int argc, char** argv);

 private:
  std::unique_ptr<CLI::App> app_;
  Job chosen_;
};

}  // namespace lampload
