#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <memory>

#include "cli/commands.h"
#include "cli/fitting.h"
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

OnConflict on_conflict(const std::string& word) {
  return word == "replace" ? OnConflict::replace : word == "add" ? OnConflict::add : OnConflict::keep;
}

/// With its place, where the check that failed does not know the file.
Error placed(const Error& fault, const std::string& file) {
  Place place = fault.place();
  if (place.file.empty()) place.file = file;
  return {fault.code(), fault.message(), place, fault.remedy()};
}

FileReceipt read(const std::string& file, const ReceiveOptions& options) {
  FileReceipt receipt;
  receipt.file = file;
  try {
    receipt.lamps = read_lamp_file(file);
    for (SharedLamp& one : receipt.lamps) {
      const std::vector<Difference> found = check_against_itself(one, !options.no_refit, options.output.quiet);
      receipt.differences.insert(receipt.differences.end(), found.begin(), found.end());
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
void store(std::vector<FileReceipt>& files, const ReceiveOptions& options, std::vector<SignerKey>& keys) {
  const OnConflict wanted = on_conflict(options.on_conflict);
  std::vector<SharedLamp> lamps;
  for (const FileReceipt& file : files) lamps.insert(lamps.end(), file.lamps.begin(), file.lamps.end());
  std::vector<Receipt> receipts;
  if (options.library.holds_nothing_yet()) {
    for (const SharedLamp& one : lamps) {
      receipts.push_back({one.lamp.name, one.lamp.name, Receipt::Outcome::added, ""});
    }
  } else {
    const Library library = options.library.open_existing(Library::Access::read_only);
    keys = library.signer_keys();
    receipts = library.receipts(lamps, wanted);
  }
  const bool changes = std::any_of(receipts.begin(), receipts.end(), [](const Receipt& one) {
    return one.outcome != Receipt::Outcome::unchanged && one.outcome != Receipt::Outcome::kept;
  });
  if (changes && !options.dry_run) {
    receipts =
        Library::open(options.library.path(), Library::Access::read_write).receive(lamps, wanted, provenance_now(""));
  }
  auto next = receipts.begin();
  for (FileReceipt& file : files) {
    const auto end = next + static_cast<std::ptrdiff_t>(file.lamps.size());
    file.receipts.assign(next, end);
    next = end;
  }
}

int receive(const ReceiveOptions& options) {
  std::vector<FileReceipt> files;
  for (const std::string& file : options.files) files.push_back(read(file, options));
  std::vector<SignerKey> keys;
  const auto refused = [&] {
    return std::any_of(files.begin(), files.end(), [](const FileReceipt& one) { return one.refused.has_value(); });
  };
  if (!refused()) {
    try {
      store(files, options, keys);
    } catch (const Error& fault) {
      if (fault.code() != ErrorCode::input_refused) throw;
      files.front().refused = placed(fault, files.size() == 1 ? files.front().file : "");
    }
  }
  if (options.output.json) {
    fmt::print("{}", receive_json(files, options.dry_run, keys));
  } else {
    Screen screen(stdout);
    show_receipts(screen, files, options.dry_run, keys);
  }
  return refused() ? exit_status(ErrorCode::input_refused) : 0;
}

}  // namespace

void add_receive(Command& program) {
  auto options = std::make_shared<ReceiveOptions>();
  Command command =
      program.command("receive", "Take lamps of lamp model files into the library, after checking them whole");
  command.option("file", options->files, "Lamp model files (docs/formats/lamp.md)").required().shown_as("FILE...");
  command.flag("--dry-run", options->dry_run, "Check and tell, store nothing");
  command
      .option("--on-conflict", options->on_conflict,
              "Where another lamp of the name is stored: keep it (default), replace it (it stays under another name), "
              "or add the file's under another name")
      .one_of({"keep", "replace", "add"})
      .shown_as("WAY");
  command.flag("--no-refit", options->no_refit, "Do not fit the captures inside again");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload receive boathouse.lamp.json --dry-run\n"
      "  lampload receive boathouse.lamp.json stairs.lamp.json\n"
      "  lampload receive boathouse.lamp.json --on-conflict add --json\n\n"
      "One refused file holds back all: exit status 3, and the library stays as it was.\n"
      "A lamp from elsewhere is advice of somebody else: whose signatures you accept is yours to say ('lampload "
      "keys').");
  command.runs([options] { return receive(*options); });
}

}  // namespace lampload
