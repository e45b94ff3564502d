#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <memory>

#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/report/lamp_report.h"
#include "cli/terminal.h"

namespace lampload {
namespace {

struct ReportOptions {
  std::vector<std::string> lamps;
  std::string channel;
  std::string file;
  LibraryOption library;
  OutputOptions output;
};

/// A fifth beyond the count, so that the limit is seen to be passed.
int last_count(const Recommendation& recommendation) {
  constexpr int least = 4;
  return std::clamp(recommendation.max_lamps + recommendation.max_lamps / 5 + 1, least, 1000);
}

LampReport gathered(const Library& library, const std::string& name, const std::optional<Channel>& channel) {
  LampReport lamp;
  lamp.record = library.lamp(name, true);
  // A page that is sent on does not tell the folders of a machine.
  for (StoredCapture& one : lamp.record.captures) {
    one.capture.file = std::filesystem::path(one.capture.file).filename().string();
  }
  lamp.evidence = evidence_of(lamp.record, lamp.record.nominal);
  if (!channel) return lamp;
  lamp.advice = advise(lamp.evidence, *channel, lamp.record.fit);
  tell_basis(*lamp.advice, lamp.record);
  add_table(*lamp.advice, lamp.evidence, last_count(lamp.advice->recommendation));
  return lamp;
}

int report(const ReportOptions& options) {
  std::optional<Channel> channel;
  if (!options.channel.empty()) channel = choose_channel(options.channel, options.library).channel;
  const Library library = options.library.open_existing(Library::Access::read_only);
  Progress progress("writing", options.output.telling());
  std::vector<LampReport> lamps;
  bool suits = true;
  for (const std::string& name : options.lamps) {
    lamps.push_back(gathered(library, name, channel));
    const std::optional<Advice>& advice = lamps.back().advice;
    suits = suits && (!advice || advice->recommendation.mode != Mode::none);
    progress.show(static_cast<double>(lamps.size()) / static_cast<double>(options.lamps.size() + 1));
  }
  write_output(options.file, report_html(lamps, channel ? channel->name : ""));
  if (options.output.json) {
    fmt::print("{}", names_json("written", {options.file}));
  } else {
    Screen(stdout).line("Written: " + options.file);
  }
  return suits ? 0 : status_does_not_hold;
}

}  // namespace

void add_report(Command& program) {
  auto options = std::make_shared<ReportOptions>();
  Command command = program.command("report", "A page to look at, print or send: answer, pictures, figures, cautions");
  command.option("lamps", options->lamps, "Lamps in the library").required().shown_as("LAMP...");
  add_channel_option(command, options->channel,
                     "A channel file, or a channel in the library; without it, the lamp alone");
  command.option("-o,--output", options->file, "Where the page goes").required().shown_as("FILE.html");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      help_with_cautions("Examples:\n"
                         "  lampload report 'stair candle' --channel 'stair dimmer' -o candle.html\n"
                         "  lampload report 'stair candle' 'clubroom pendant' -o lamps.html\n\n"
                         "The page is one file that fetches nothing. Exit status 1 says: written, and a lamp suits no "
                         "mode of the channel."));
  command.runs([options] { return report(*options); });
}

}  // namespace lampload
