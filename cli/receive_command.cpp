#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <set>

#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/lamp_folder.h"
#include "cli/measuring.h"
#include "cli/options.h"
#include "cli/receive_checks.h"
#include "cli/sharing_output.h"
#include "core/error.h"
#include "db/lamp_file.h"

namespace lampload {
namespace {

struct ReceiveOptions {
  std::vector<std::string> files;
  std::string on_conflict = "keep";
  bool dry_run = false;
  bool no_refit = false;
  LibraryOption library;
  OutputOptions output;
};

/// With its place, where the check that failed does not know the file.
Error placed(const Error& fault, const std::string& file) {
  Place place = fault.place();
  if (place.file.empty()) place.file = file;
  return {fault.code(), fault.message(), place, fault.remedy()};
}

/// `known`: digests of records that were looked through when they were stored.
FileReceipt read(const std::string& file, const ReceiveOptions& options, const std::set<std::string>& known) {
  FileReceipt receipt;
  receipt.file = file;
  try {
    receipt.lamps = read_lamp_file(file);
    for (std::size_t i = 0; i < receipt.lamps.size(); ++i) {
      SharedLamp& one = receipt.lamps[i];
      if (!known.contains(one.digest)) {
        const std::vector<Difference> found =
            check_against_itself(one, fmt::format("lamps[{}]", i), !options.no_refit, options.output.telling());
        receipt.differences.insert(receipt.differences.end(), found.begin(), found.end());
      }
      std::optional<StoredFit>& fit = one.lamp.fit;
      if (fit && fit->accepted) {
        fit->screening = figures_for_screening(*fit, one.lamp.captures, one.lamp.nominal, operating_point(one.lamp));
      }
    }
  } catch (const Error& fault) {
    if (fault.code() != ErrorCode::input_refused && fault.code() != ErrorCode::calculation) throw;
    receipt.refused = placed(fault, file);
    receipt.lamps.clear();
  }
  return receipt;
}

/// The library is only opened to write once nothing is refused any more and something is to be stored.
void store(Reception& reception, const ReceiveOptions& options) {
  const OnConflict wanted = conflict_way(options.on_conflict);
  const Provenance now = provenance_now("");
  std::vector<SharedLamp> lamps;
  for (const FileReceipt& file : reception.files) lamps.insert(lamps.end(), file.lamps.begin(), file.lamps.end());
  std::vector<Receipt> receipts;
  {
    const Library library = options.library.holds_nothing_yet()
                                ? Library::in_memory()
                                : options.library.open_existing(Library::Access::read_only);
    reception.keys = library.signer_keys();
    receipts = library.receipts(lamps, wanted, now.time_utc);
  }
  const bool changes = std::any_of(receipts.begin(), receipts.end(), [](const Receipt& one) {
    return one.outcome != Receipt::Outcome::unchanged && one.outcome != Receipt::Outcome::kept;
  });
  if (changes && !options.dry_run) {
    receipts = Library::open(options.library.path(), Library::Access::read_write).receive(lamps, wanted, now);
  }
  auto next = receipts.begin();
  for (FileReceipt& file : reception.files) {
    const auto end = next + static_cast<std::ptrdiff_t>(file.lamps.size());
    file.receipts.assign(next, end);
    next = end;
  }
}

/// Folders stand for the lamp model files in them.
std::vector<std::string> files_of(const ReceiveOptions& options, std::vector<LeftOut>& left_out) {
  std::vector<std::string> files;
  for (const std::string& place : options.files) {
    std::error_code none;
    if (!std::filesystem::is_directory(place, none)) {
      files.push_back(place);
      continue;
    }
    const FolderContent content = lamp_files_in(place);
    files.insert(files.end(), content.files.begin(), content.files.end());
    left_out.insert(left_out.end(), content.left_out.begin(), content.left_out.end());
  }
  return files;
}

int receive(const ReceiveOptions& options) {
  Reception reception;
  reception.dry_run = options.dry_run;
  std::vector<FileReceipt>& files = reception.files;
  std::set<std::string> known;
  if (!options.library.holds_nothing_yet()) {
    known = options.library.open_existing(Library::Access::read_only).received_digests();
  }
  for (const std::string& file : files_of(options, reception.left_out)) files.push_back(read(file, options, known));
  const auto refused = [&] {
    return std::any_of(files.begin(), files.end(), [](const FileReceipt& one) { return one.refused.has_value(); });
  };
  if (!refused()) {
    try {
      store(reception, options);
    } catch (const Error& fault) {
      if (fault.code() != ErrorCode::input_refused) throw;
      files.front().refused = placed(fault, files.size() == 1 ? files.front().file : "");
    }
  }
  if (options.output.json) {
    fmt::print("{}", receive_json(reception));
  } else {
    Screen screen(stdout);
    show_receipts(screen, reception);
  }
  return refused() ? exit_status(ErrorCode::input_refused) : 0;
}

}  // namespace

void add_receive(Command& program) {
  auto options = std::make_shared<ReceiveOptions>();
  Command command =
      program.command("receive", "Take lamps of lamp model files into the library, after checking them whole");
  command.option("file", options->files, "Lamp model files (docs/formats/lamp.md), or folders of them")
      .required()
      .shown_as("FILE|FOLDER...");
  command.flag("--dry-run", options->dry_run, "Check and tell, store nothing");
  add_conflict_option(command, options->on_conflict);
  command.flag("--no-refit", options->no_refit, "Do not fit the captures inside again");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload receive boathouse.lamp.json --dry-run\n"
      "  lampload receive boathouse.lamp.json stairs.lamp.json\n"
      "  lampload receive boathouse_lamps --dry-run\n"
      "  lampload receive boathouse.lamp.json --on-conflict add --json\n\n"
      "One refused file holds back all: exit status 3, and the library stays as it was.\n"
      "A lamp from elsewhere is advice of somebody else: whose signatures you accept is yours to say ('lampload "
      "keys').");
  command.runs([options] { return receive(*options); });
}

}  // namespace lampload
