#include <fmt/format.h>

#include <memory>

#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/quantity.h"
#include "cli/terminal.h"
#include "db/channel_file.h"
#include "db/library.h"

namespace lampload {
namespace {

struct ChannelsOptions {
  std::vector<std::string> files;
  std::string name;
  bool yes = false;
  LibraryOption library;
  OutputOptions output;
};

const char* kind_in_words(OutputKind kind) {
  switch (kind) {
    case OutputKind::phase_cut:
      return "phase cut";
    case OutputKind::relay:
      return "relay";
    case OutputKind::dc_pwm:
      return "DC pulse width";
    case OutputKind::dc_constant_current:
      return "DC constant current";
  }
  return "";
}

std::string edges_in_words(const Output& output) {
  std::string text;
  for (const Edge edge : output.edges) {
    if (!text.empty()) text += ", ";
    text += edge == Edge::leading ? "leading" : edge == Edge::trailing ? "trailing" : "none";
  }
  return text.empty() ? "-" : text;
}

int list(const ChannelsOptions& options) {
  std::vector<Channel> channels;
  if (!options.library.holds_nothing_yet()) {
    channels = options.library.open_existing(Library::Access::read_only).channels();
  }
  if (options.output.json) {
    fmt::print("{}", channel_names_json(channels));
    return 0;
  }
  Screen screen(stdout);
  if (channels.empty()) {
    screen.line("No channels are stored yet.");
    return 0;
  }
  Table table({"channel", "output", "edges", "rated current", "supply"});
  for (const Channel& channel : channels) {
    const Output& output = channel.output;
    const double supply_v = output.supply_voltage_v.value_or(channel.supply.voltage_v);
    const auto current_a = output.rated_current_a ? output.rated_current_a : output.current_a;
    table.add({channel.name, kind_in_words(output.kind), edges_in_words(output),
               current_a ? quantity(*current_a, "A", 3) : "-", quantity(supply_v, "V", 3)});
  }
  screen.table(table);
  return 0;
}

int add(const ChannelsOptions& options) {
  std::vector<Channel> channels;
  for (const std::string& file : options.files) channels.push_back(read_channel_file(file));
  Library library = Library::open(options.library.path(), Library::Access::read_write);
  for (const Channel& channel : channels) library.store_channel(channel);
  if (options.output.json) {
    std::vector<std::string> names;
    for (const Channel& channel : channels) names.push_back(channel.name);
    fmt::print("{}", names_json("added", names));
  } else {
    Screen screen(stdout);
    for (const Channel& channel : channels) screen.line("added " + channel.name);
  }
  return 0;
}

int show(const ChannelsOptions& options) {
  const Channel channel = options.library.open_existing(Library::Access::read_only).channel(options.name);
  fmt::print("{}", channel_json(channel));
  return 0;
}

int remove(const ChannelsOptions& options) {
  Library library = options.library.open_existing(Library::Access::read_write);
  const Channel channel = library.channel(options.name);
  const bool agreed = confirmed("Remove channel " + channel.name + "?", options.yes);
  if (agreed) library.remove_channel(channel.name);
  if (options.output.json) {
    fmt::print("{}",
               names_json("removed", agreed ? std::vector<std::string>{channel.name} : std::vector<std::string>{}));
  } else {
    Screen(stdout).line((agreed ? "removed " : "kept ") + channel.name);
  }
  return 0;
}

Command add_action(Command& channels, const std::string& name, const std::string& meaning,
                   const std::shared_ptr<ChannelsOptions>& options, int (*action)(const ChannelsOptions&)) {
  Command command = channels.command(name, meaning);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.runs([options, action] { return action(*options); });
  return command;
}

}  // namespace

void add_channels(Command& program) {
  auto options = std::make_shared<ChannelsOptions>();
  Command channels = program.command("channels", "Channel descriptions in the library");
  channels.footer(
      "Examples:\n"
      "  lampload channels list\n"
      "  lampload channels add clubroom_dimmer.json stair_dimmer.json\n"
      "  lampload channels show 'clubroom dimmer' > clubroom_dimmer.json");

  add_action(channels, "list", "List the channels", options, &list)
      .footer("Examples:\n  lampload channels list\n  lampload channels list --json");

  Command adding = add_action(channels, "add", "Add or replace channels from channel files", options, &add);
  adding.option("file", options->files, "Channel files").required().shown_as("FILE...");
  adding.footer(
      "Examples:\n"
      "  lampload channels add clubroom_dimmer.json\n"
      "  lampload channels add *_dimmer.json --library boathouse.lampload");

  Command showing = add_action(channels, "show", "Print a channel as a channel file", options, &show);
  showing.option("name", options->name, "Channel in the library").required().shown_as("NAME");
  showing.footer(
      "Examples:\n"
      "  lampload channels show 'clubroom dimmer'\n"
      "  lampload channels show 'clubroom dimmer' > clubroom_dimmer.json");

  Command removing = add_action(channels, "remove", "Remove a channel", options, &remove);
  removing.option("name", options->name, "Channel in the library").required().shown_as("NAME");
  removing.flag("--yes", options->yes, "Do not ask; needed where there is no terminal");
  removing.footer(
      "Examples:\n"
      "  lampload channels remove 'stair dimmer'\n"
      "  lampload channels remove 'stair dimmer' --yes");
}

}  // namespace lampload
