#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>

#include "cli/basis.h"
#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/passing_on.h"
#include "cli/quantity.h"
#include "cli/report/assets.h"
#include "cli/report/catalogue.h"
#include "cli/terminal.h"
#include "core/error.h"
#include "db/lamp_file.h"

namespace lampload {
namespace {

namespace fs = std::filesystem;

constexpr const char* data_file = "lamps.js";

struct CatalogueOptions {
  std::string folder;
  std::string title = "Lamps";
  std::string licence;
  LibraryOption library;
  OutputOptions output;
};

[[noreturn]] void refuse_folder(const fs::path& folder, const std::string& message, const std::string& remedy) {
  throw Error(ErrorCode::input_refused, message, Place{.file = folder.string()}, remedy);
}

/// An empty folder, or an earlier catalogue, of which only the lamps go. What somebody else put there is left alone.
void make_room(const fs::path& folder) {
  std::error_code failure;
  if (fs::exists(folder) && !fs::is_directory(folder)) refuse_folder(folder, "it is a file", "Name a folder");
  if (fs::exists(folder) && !fs::is_empty(folder) && !fs::exists(folder / data_file)) {
    refuse_folder(folder, "the folder holds something else than a catalogue",
                  "Name an empty folder, or one that is not there");
  }
  for (const char* part : {"lamps", "models"}) {
    fs::remove_all(folder / part, failure);
    if (!failure) fs::create_directories(folder / part, failure);
    if (failure) refuse_folder(folder, "the folder could not be written", "Name one in a place that may be written to");
  }
}

/// Nothing where the lamp cannot be shared, as when its fit is of an earlier table of the family, and of one whose
/// signer was revoked: nobody shall get it from here. One that came in a lamp model file goes on as it came, under its
/// own licence.
std::optional<SharedLamp> shared_if_possible(const Library& library, const LampRecord& lamp,
                                             const std::string& licence) {
  if (lamp.trust == Trust::revoked_signer) return std::nullopt;
  SharingTerms terms;
  terms.licence = licence;
  try {
    return passed_on(library, lamp.name, terms).lamp;
  } catch (const Error& error) {
    if (error.code() != ErrorCode::input_refused) throw;
    return std::nullopt;
  }
}

int write_catalogue(const CatalogueOptions& options) {
  const Library library = options.library.open_existing(Library::Access::read_only);
  const std::vector<LampSummary> lamps = library.lamps();
  const fs::path folder = options.folder;
  make_room(folder);
  Progress progress("writing", options.output.telling());
  std::vector<CatalogueEntry> entries;
  for (const LampSummary& summary : lamps) {
    const LampRecord lamp = library.lamp(summary.name);
    const std::string name = file_name_of(lamp.name);
    const std::string model = name + ".json";
    const std::optional<SharedLamp> shared = shared_if_possible(library, lamp, options.licence);
    if (shared) write_output((folder / "models" / model).string(), lamp_file_text(std::span(&*shared, 1)));
    if (lamp.trust == Trust::revoked_signer && !options.output.quiet) {
      Screen(stderr).paragraph("note: " + short_caution_of(lamp) + ". Its page says so, and has no model file", 0,
                               Style::warning);
    }
    entries.push_back(entry_of(lamp));
    write_output((folder / entries.back().page).string(),
                 catalogue_lamp_page(lamp, shared ? "../models/" + model : ""));
    progress.show(static_cast<double>(entries.size()) / static_cast<double>(lamps.size()));
  }
  write_output((folder / "style.css").string(), std::string(report_assets::style));
  write_output((folder / "catalogue.js").string(), std::string(report_assets::catalogue_script));
  write_output((folder / data_file).string(), catalogue_data(entries));
  write_output((folder / "index.html").string(), catalogue_index(options.title));
  if (options.output.json) {
    fmt::print("{}", names_json("written", {(folder / "index.html").string()}));
  } else {
    Screen(stdout).line(fmt::format("Written: {}, {}", (folder / "index.html").string(),
                                    counted(static_cast<int>(entries.size()), "lamp")));
  }
  return 0;
}

}  // namespace

void add_catalogue(Command& program) {
  auto options = std::make_shared<CatalogueOptions>();
  Command command = program.command("catalogue", "The library as a static site to publish");
  command.option("-o,--output", options->folder, "Folder to write: new, empty, or an earlier catalogue")
      .required()
      .shown_as("FOLDER");
  command.option("--title", options->title, "What stands above the list").shown_as("TEXT");
  command.option("--licence", options->licence, "Of the data, in the model files").shown_as("TEXT");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload catalogue -o boathouse_lamps\n"
      "  lampload catalogue -o site --title 'Lamps of the boathouse' --licence CC-BY-4.0\n\n"
      "Opens from a disk (index.html) or from any web server.");
  command.runs([options] { return write_catalogue(*options); });
}

}  // namespace lampload
