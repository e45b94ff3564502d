#include <fmt/format.h>

#include <memory>

#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/measuring.h"
#include "cli/merge_output.h"
#include "cli/options.h"
#include "cli/quantity.h"
#include "cli/terminal.h"
#include "core/error.h"
#include "db/merge.h"
#include "db/upkeep.h"

namespace lampload {
namespace {

struct UpkeepOptions {
  std::string file;
  std::string on_conflict = "keep";
  bool dry_run = false;
  LibraryOption library;
  OutputOptions output;
};

std::string existing(const UpkeepOptions& options) {
  if (options.library.holds_nothing_yet()) {
    throw Error(ErrorCode::not_found, "nothing is stored here yet", Place{.file = options.library.path()},
                "Store a lamp or a channel first, or name another file with --library");
  }
  return options.library.path();
}

int check(const UpkeepOptions& options) {
  const std::string path = existing(options);
  const LibraryCheck found = check_library(path);
  if (options.output.json) {
    fmt::print("{}", library_check_json(path, found));
    return found.faults.empty() ? 0 : status_does_not_hold;
  }
  Screen screen(stdout);
  if (found.faults.empty()) {
    screen.paragraph(
        fmt::format("{} is whole: {}, {}, {}, {}", path, counted(static_cast<int>(found.lamps), "lamp"),
                    counted(static_cast<int>(found.captures), "capture"), counted(static_cast<int>(found.fits), "fit"),
                    counted(static_cast<int>(found.channels), "channel")),
        0, Style::good);
    return 0;
  }
  screen.paragraph(fmt::format("{} is not whole: {}", path, counted(static_cast<int>(found.faults.size()), "fault")), 0,
                   Style::bad);
  for (const std::string& fault : found.faults) screen.paragraph(fault, 2);
  screen.paragraph(
      "Put a backup back with 'lampload library restore', or save what can be read with 'lampload library salvage'.", 0,
      Style::warning);
  return status_does_not_hold;
}

int back_up(const UpkeepOptions& options) {
  back_up_library(existing(options), options.file);
  if (options.output.json) {
    fmt::print("{}", names_json("written", {options.file}));
  } else {
    Screen(stdout).paragraph(fmt::format("{} copied to {}", options.library.path(), options.file));
  }
  return 0;
}

int restore(const UpkeepOptions& options) {
  const std::string kept = restore_library(options.library.path(), options.file);
  if (options.output.json) {
    fmt::print("{}", names_json("kept", kept.empty() ? std::vector<std::string>{} : std::vector<std::string>{kept}));
    return 0;
  }
  Screen(stdout).paragraph(fmt::format("{} is that of {} now{}", options.library.path(), options.file,
                                       kept.empty() ? "" : "; what was there is kept as " + kept));
  return 0;
}

int salvage(const UpkeepOptions& options) {
  const Salvage saved = salvage_library(existing(options), options.file);
  if (options.output.json) {
    fmt::print("{}", salvage_json(options.file, saved));
    return saved.damaged.empty() ? 0 : status_does_not_hold;
  }
  Screen screen(stdout);
  screen.paragraph(fmt::format("{} saved to {}", counted(static_cast<int>(saved.rows), "row"), options.file), 0,
                   saved.damaged.empty() ? Style::good : Style::warning);
  for (const std::string& what : saved.damaged) screen.paragraph(what, 2);
  return saved.damaged.empty() ? 0 : status_does_not_hold;
}

int merge(const UpkeepOptions& options) {
  const LibraryMerge merged = merge_library(options.library.path(), options.file, conflict_way(options.on_conflict),
                                            options.dry_run, provenance_now("").time_utc);
  if (options.output.json) {
    fmt::print("{}", merge_json(options.library.path(), options.file, merged, options.dry_run));
  } else {
    Screen screen(stdout);
    show_merge(screen, merged, options.dry_run);
  }
  return merged.refused() > 0 ? exit_status(ErrorCode::input_refused) : 0;
}

Command add_action(Command& library, const std::string& name, const std::string& meaning,
                   const std::shared_ptr<UpkeepOptions>& options, int (*action)(const UpkeepOptions&)) {
  Command command = library.command(name, meaning);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.runs([options, action] { return action(*options); });
  return command;
}

}  // namespace

void add_library(Command& program) {
  auto options = std::make_shared<UpkeepOptions>();
  Command library = program.command("library", "Look after the library file: check, back up, restore, salvage, merge");
  library.footer(
      "Examples:\n"
      "  lampload library check\n"
      "  lampload library backup boathouse_2026-03.lampload\n"
      "  lampload library restore boathouse_2026-03.lampload");

  add_action(library, "check", "Read all of the library and tell what is not whole; changes nothing", options, &check)
      .footer(
          "Examples:\n  lampload library check\n  lampload library check --library boathouse.lampload --json\n\n"
          "Exit status 1 says: done, and the library is not whole.");

  Command backing =
      add_action(library, "backup", "Copy the library, whatever others write meanwhile", options, &back_up);
  backing.option("file", options->file, "Where the copy goes; must not be there yet").required().shown_as("FILE");
  backing.footer("Examples:\n  lampload library backup boathouse_2026-03.lampload");

  Command restoring = add_action(
      library, "restore", "Put a copy in the library's place; what was there is kept beside it", options, &restore);
  restoring.option("file", options->file, "A library, such as a backup").required().shown_as("FILE");
  restoring.footer("Examples:\n  lampload library restore boathouse_2026-03.lampload");

  Command salvaging =
      add_action(library, "salvage", "Save what can be read of a damaged library to a new one", options, &salvage);
  salvaging.option("file", options->file, "The new library; must not be there yet").required().shown_as("FILE");
  salvaging.footer(
      "Examples:\n  lampload library salvage saved.lampload\n\n"
      "Exit status 1 says: done, and something was lost.");

  Command merging = add_action(library, "merge", "Take what another library holds into this one", options, &merge);
  merging.option("file", options->file, "The other library; it is checked first, and not changed")
      .required()
      .shown_as("FILE");
  merging.flag("--dry-run", options->dry_run, "Check and tell, store nothing");
  add_conflict_option(merging, options->on_conflict);
  merging.footer(
      "Examples:\n"
      "  lampload library merge laptop.lampload --dry-run\n"
      "  lampload library merge laptop.lampload --on-conflict add\n\n"
      "For libraries of your own: what was measured there counts as measured here. Lamps of others: 'lampload "
      "receive'.\n"
      "One refused lamp holds back all: exit status 3, and the library stays as it was.");
}

}  // namespace lampload
