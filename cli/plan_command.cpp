#include <fmt/format.h>

#include <filesystem>
#include <map>
#include <memory>

#include "cli/basis.h"
#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/plan_output.h"
#include "cli/report/schedule.h"
#include "core/error.h"
#include "db/channel_file.h"
#include "db/plan_file.h"

namespace lampload {
namespace {

struct PlanOptions {
  std::string file;
  std::string report;
  LibraryOption library;
  OutputOptions output;
};

/// Finds what a plan names: lamps of the plan itself or of the library, channels of files or of the library.
class Finder {
 public:
  Finder(const Plan& plan, const PlanOptions& options) : plan_(plan), options_(options) {}

  LampEvidence lamp(const std::string& name) {
    if (const auto found = lamps_.find(name); found != lamps_.end()) return found->second;
    return lamps_.emplace(name, look_up(name)).first->second;
  }

  /// Of lamps of the library that were not measured here, by their names.
  [[nodiscard]] const std::map<std::string, std::string>& cautions() const { return cautions_; }

  /// Those of lamps whose signer was revoked.
  [[nodiscard]] const std::vector<std::string>& revoked() const { return revoked_; }

  Channel channel(const PlanChannel& planned) {
    if (planned.described) return *planned.described;
    if (planned.file.empty()) return library().channel(planned.in_library);
    return read_channel_file((std::filesystem::path(options_.file).parent_path() / planned.file).string());
  }

 private:
  const Library& library() {
    if (!library_) library_.emplace(options_.library.open_existing(Library::Access::read_only));
    return *library_;
  }

  LampEvidence look_up(const std::string& name) {
    for (const PlanLamp& described : plan_.lamps) {
      if (described.name != name) continue;
      LampEvidence evidence;
      evidence.name = name;
      evidence.lamp = described.lamp;
      evidence.label_dimmable = described.label_dimmable;
      return evidence;
    }
    const LampRecord record = library().lamp(name);
    if (record.captures.empty() && !record.fit) {
      throw Error(ErrorCode::not_found, "no captures are stored with '" + name + "'", Place{},
                  "Add some with 'lampload import', then fit them");
    }
    if (const std::string caution = caution_of(name, record.trust, record.origin); !caution.empty()) {
      cautions_[name] = caution;
      if (record.trust == Trust::revoked_signer) revoked_.push_back(caution);
    }
    return evidence_of(record, record.nominal);
  }

  const Plan& plan_;
  const PlanOptions& options_;
  std::optional<Library> library_;
  std::map<std::string, LampEvidence> lamps_;
  std::map<std::string, std::string> cautions_;
  std::vector<std::string> revoked_;
};

/// A channel as it stands at its place: what the plan says of board and cable goes before the description's.
PlannedChannel placed(const Plan& plan, const PlanChannel& planned, const std::string& room, Finder& finder,
                      const std::vector<PlannedBreaker>& breakers) {
  PlannedChannel channel;
  channel.room = room;
  channel.channel = finder.channel(planned);
  channel.channel.name = planned.name;
  if (planned.cable) channel.channel.cable = planned.cable;
  for (std::size_t i = 0; i < breakers.size(); ++i) {
    if (planned.breaker.empty() || breakers[i].name != planned.breaker) continue;
    channel.breaker = i;
    channel.channel.breaker = breakers[i].breaker;
    for (const PlanBoard& board : plan.boards) {
      if (board.name == breakers[i].board && board.supply && fed_by_mains(channel.channel)) {
        channel.channel.supply = *board.supply;
      }
    }
  }
  channel.mode = planned.mode;
  channel.starts_with = planned.starts_with;
  for (const PlanLoad& load : planned.lamps) channel.lamps.push_back({finder.lamp(load.lamp), load.count});
  return channel;
}

Installation installation_of(const Plan& plan, Finder& finder) {
  Installation installation;
  installation.name = plan.name;
  for (const PlanBoard& board : plan.boards) {
    for (const PlanBreaker& breaker : board.breakers) {
      installation.breakers.push_back({board.name, breaker.name, breaker.breaker, breaker.stagger_s});
    }
  }
  for (const PlanRoom& room : plan.rooms) {
    for (const PlanChannel& channel : room.channels) {
      installation.channels.push_back(placed(plan, channel, room.name, finder, installation.breakers));
    }
  }
  return installation;
}

void write_schedule(const PlanOptions& options, const Installation& plan, const PlanVerdict& verdict) {
  Progress progress("finding settings", options.output.telling());
  std::vector<std::optional<DimmingRange>> ranges;
  for (std::size_t i = 0; i < plan.channels.size(); ++i) {
    ranges.push_back(firmware_range(plan.channels[i], verdict.channels[i].check.mode));
    progress.show(static_cast<double>(i + 1) / static_cast<double>(plan.channels.size()));
  }
  write_output(options.report, schedule_html(plan, verdict, ranges));
}

int judge(const PlanOptions& options) {
  const Plan described = read_plan_file(options.file);
  Finder finder(described, options);
  const Installation plan = installation_of(described, finder);
  PlanVerdict verdict = judge_plan(plan);
  for (std::size_t i = 0; i < verdict.channels.size(); ++i) {
    std::vector<std::string>& cautions = verdict.channels[i].check.cautions;
    for (const LoadItem& item : plan.channels[i].lamps) {
      const auto found = finder.cautions().find(item.evidence.name);
      if (found != finder.cautions().end()) cautions.insert(cautions.begin(), found->second);
    }
  }
  if (!options.report.empty()) write_schedule(options, plan, verdict);
  if (options.output.json) {
    fmt::print("{}", plan_json(plan, verdict));
  } else {
    Screen screen(stdout);
    // What a bad source says comes before what it says.
    for (const std::string& caution : finder.revoked()) {
      screen.paragraph("Caution: " + caution + ".", 0, Style::bad);
    }
    show_plan(screen, plan, verdict);
  }
  return verdict.holds ? 0 : status_does_not_hold;
}

}  // namespace

void add_plan(Command& program) {
  auto options = std::make_shared<PlanOptions>();
  Command command = program.command("plan", "A whole installation: every channel and breaker checked");
  command.option("file", options->file, "The plan file (docs/formats/plan.md)").required().shown_as("FILE");
  command
      .option("--report", options->report, "Also write a schedule for the cabinet door: a sheet a board, with settings")
      .shown_as("FILE.html");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload plan boathouse_plan.json\n"
      "  lampload plan boathouse_plan.json --report schedule.html\n"
      "  lampload plan boathouse_plan.json --library boathouse.lampload --json\n\n"
      "Lamps are those that the plan describes itself, else those of the library.\n"
      "Exit status 1 says: done, and a channel or a breaker does not hold.\n"
      "The answer is advice from a model. Local codes and licensed practice come first.");
  command.runs([options] { return judge(*options); });
}

}  // namespace lampload
