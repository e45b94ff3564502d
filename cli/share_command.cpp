#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <memory>

#include "cli/commands.h"
#include "cli/lamp_folder.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/passing_on.h"
#include "cli/sharing_output.h"
#include "cli/terminal.h"
#include "core/error.h"
#include "db/key_files.h"
#include "db/lamp_file.h"

namespace lampload {
namespace {

struct ShareOptions {
  std::vector<std::string> lamps;
  bool all = false;
  std::string file;
  std::string folder;
  bool remove_gone = false;
  bool captures = false;
  std::string licence;
  std::string contributor;
  std::string key;
  LibraryOption library;
  OutputOptions output;
};

void note_on_received(const ShareOptions& options, const SharedNote& one, const SharingTerms& terms) {
  if (options.output.quiet) return;
  for (const std::string& note : notes_on(one, terms)) {
    Screen(stderr).paragraph("note: " + note, 0, one.revoked.empty() ? Style::plain : Style::warning);
  }
  if (!one.as_received) return;
  if (one.other_label) {
    Screen(stderr).paragraph(
        fmt::format("note: {} came in a lamp model file and goes on as it came; what its label is taken to say here is "
                    "not in it. Captures or a fit of your own make it yours to share",
                    one.lamp.lamp.name));
  }
  const bool asked = !options.key.empty() || !options.licence.empty() || !options.contributor.empty() ||
                     options.captures != one.lamp.with_samples;
  if (!asked) return;
  Screen(stderr).paragraph(
      fmt::format("note: {} came in a lamp model file and goes on as it came, with its licence and signature if it has "
                  "any; what was asked for is for lamps measured here",
                  one.lamp.lamp.name));
}

void check_place(const ShareOptions& options) {
  if (options.file.empty() == options.folder.empty()) {
    throw Error(ErrorCode::usage,
                options.file.empty() ? "where to write is not said" : "a file and a folder were named", {},
                "Name a lamp model file with -o, or with --folder a folder for a file a lamp");
  }
  if (options.remove_gone && (options.folder.empty() || !options.all)) {
    throw Error(ErrorCode::usage, "--remove-gone is for a whole library in a folder", {},
                "Give --all and --folder too");
  }
  if (options.remove_gone && options.key.empty() && options.contributor.empty()) {
    throw Error(ErrorCode::usage, "--remove-gone does not know which files are yours", {},
                "Give the --sign or the --contributor that they were written with");
  }
}

/// Lamps that go on as they came keep the names they came with, which may be those of others here.
void refuse_same_names(const std::vector<std::string>& names, const std::vector<SharedLamp>& lamps) {
  std::map<std::string, std::string> here;
  for (std::size_t i = 0; i < lamps.size(); ++i) {
    const auto [other, fresh] = here.emplace(lamps[i].lamp.name, names[i]);
    if (fresh) continue;
    throw Error(
        ErrorCode::input_refused,
        fmt::format("'{}' and '{}' would both be called '{}' in the file: a lamp that was received goes on under "
                    "the name it came with",
                    other->second, names[i], other->first),
        {}, "Write a file a lamp with --folder, or name the lamps for two files");
  }
}

/// Of a whole library one lamp that cannot be written does not hold back the others.
struct FolderNotes {
  std::vector<std::string> names;  ///< in the library
  std::vector<SharedNote> notes;
  std::vector<NotShared> left_out;
};

FolderNotes notes_for_folder(const ShareOptions& options, const Library& library, const std::vector<std::string>& names,
                             const SharingTerms& terms) {
  FolderNotes found;
  for (const std::string& name : names) {
    SharingTerms now = terms;
    for (bool done = false; !done;) {
      try {
        SharedNote note = passed_on(library, name, now);
        if (terms.with_samples && !now.with_samples) note.without_asked_samples = true;
        found.notes.push_back(std::move(note));
        found.names.push_back(name);
        done = true;
      } catch (const Error& error) {
        if (!options.all || error.code() != ErrorCode::input_refused) throw;
        if (now.with_samples) {
          now.with_samples = false;  // not all of its samples are here
          continue;
        }
        found.left_out.push_back({name, error.what()});
        done = true;
      }
    }
  }
  return found;
}

int into_folder(const ShareOptions& options, const Library& library, const std::vector<std::string>& names,
                const SharingTerms& terms) {
  const FolderNotes found = notes_for_folder(options, library, names, terms);
  std::vector<FolderLamp> lamps;
  for (std::size_t i = 0; i < found.names.size(); ++i) {
    note_on_received(options, found.notes[i], terms);
    lamps.push_back({found.names[i], found.notes[i].lamp});
  }
  std::optional<std::vector<std::string>> others;
  if (options.all) others = names;
  const FolderShare done = share_to_folder(options.folder, lamps, terms, others, options.remove_gone);
  const int status = found.left_out.empty() ? 0 : status_does_not_hold;
  if (options.output.json) {
    fmt::print("{}", share_folder_json(options.folder, found.notes, done, found.left_out));
    return status;
  }
  const auto count = [&](Written which) { return std::count(done.written.begin(), done.written.end(), which); };
  Screen screen(stdout);
  screen.line(fmt::format("{}: {} new, {} changed, {} unchanged", options.folder, count(Written::fresh),
                          count(Written::changed), count(Written::unchanged)),
              found.left_out.empty() ? Style::good : Style::warning);
  for (std::size_t i = 0; i < lamps.size(); ++i) {
    if (done.written[i] == Written::unchanged) continue;
    screen.paragraph(fmt::format("{}: {} ({}){}", word_for(done.written[i]), done.files[i], found.names[i],
                                 found.notes[i].without_asked_samples
                                     ? ", without captures: the library does not hold all their samples"
                                     : ""),
                     2);
  }
  for (const NotShared& one : found.left_out) {
    screen.paragraph(fmt::format("left out: {}: {}", one.lamp, one.why), 2, Style::warning);
  }
  for (const GoneFile& one : done.gone) {
    screen.paragraph(fmt::format("{}: {} ({}), which the library does not hold", one.removed ? "removed" : "left there",
                                 one.file, one.lamp),
                     2);
  }
  return status;
}

int share(const ShareOptions& options) {
  check_place(options);
  const Library library = options.library.open_existing(Library::Access::read_only);
  std::vector<std::string> names = options.lamps;
  if (options.all == !names.empty()) {
    throw Error(ErrorCode::usage, options.all ? "lamps were named, and --all too" : "no lamp was named", {},
                "Name the lamps, or give --all for every lamp of the library");
  }
  if (options.all) {
    for (const LampSummary& lamp : library.lamps()) names.push_back(lamp.name);
  }
  if (names.empty()) throw Error(ErrorCode::not_found, "the library holds no lamps");
  SharingTerms terms;
  terms.with_samples = options.captures;
  terms.licence = options.licence;
  terms.contributor = options.contributor;
  if (!options.key.empty()) terms.key = read_key_file(options.key);
  if (!options.folder.empty()) return into_folder(options, library, names, terms);
  std::vector<SharedNote> notes;
  std::vector<SharedLamp> lamps;
  for (const std::string& name : names) {
    notes.push_back(passed_on(library, name, terms));
    note_on_received(options, notes.back(), terms);
    lamps.push_back(notes.back().lamp);
  }
  refuse_same_names(names, lamps);
  refuse_to_lose(options.file, lamps);
  const std::string text = lamp_file_text(lamps);
  (void)parse_lamp_file(text, options.file);  // as whoever receives it will
  write_output(options.file, text);
  if (options.output.json) {
    fmt::print("{}", share_json(options.file, notes));
    return 0;
  }
  Screen screen(stdout);
  for (const SharedNote& one : notes) {
    const std::string& signer = one.lamp.signer;
    screen.line(fmt::format("shared {}: {}, {}", one.lamp.lamp.name,
                            signer.empty() ? "not signed" : "signed with " + in_short(signer) + "...",
                            one.lamp.with_samples ? "with captures" : "without captures"));
  }
  return 0;
}

}  // namespace

void add_share(Command& program) {
  auto options = std::make_shared<ShareOptions>();
  Command command = program.command("share", "Write lamps of the library into a lamp model file for others");
  command.option("lamp", options->lamps, "Lamps in the library").shown_as("NAME...");
  command.flag("--all", options->all, "Every lamp of the library");
  command.option("-o,--output", options->file, "The lamp model file to write").shown_as("FILE");
  command
      .option("--folder", options->folder,
              "A file a lamp in this folder instead; what says the same already is not touched")
      .shown_as("FOLDER");
  command.flag("--remove-gone", options->remove_gone,
               "With --all and --folder: remove your own files of lamps that the library does not hold; others stay");
  command.flag("--captures", options->captures, "The captures too, so that the receiver can fit again");
  command.option("--licence", options->licence, "What others may do with the data, such as CC0-1.0").shown_as("TEXT");
  command.option("--contributor", options->contributor, "Who shares, as others shall read it").shown_as("TEXT");
  command.option("--sign", options->key, "Sign with this key of yours ('lampload keys make')").shown_as("KEYNAME");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload share 'clubroom pendant' -o pendant.lamp.json\n"
      "  lampload share 'clubroom pendant' 'stair candle' -o boathouse.lamp.json --captures \\\n"
      "    --licence CC0-1.0 --sign boathouse\n"
      "  lampload share --all -o everything.lamp.json\n"
      "  lampload share --all --folder boathouse_lamps --contributor 'the boathouse'\n\n"
      "The file names who measured, when and with what, as it is stored. It holds no paths of this machine.\n"
      "What a signature says and what not: docs/sharing.md.");
  command.runs([options] { return share(*options); });
}

}  // namespace lampload
