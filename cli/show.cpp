#include <fmt/format.h>

#include <memory>
#include <optional>

#include "cli/basis.h"
#include "cli/commands.h"
#include "cli/comparison_output.h"
#include "cli/json_output.h"
#include "cli/json_text.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/passing_on.h"
#include "cli/quantity.h"
#include "cli/screens.h"
#include "core/capture/capture_csv.h"
#include "core/error.h"
#include "db/lamp_file.h"

namespace lampload {
namespace {

struct ShowOptions {
  std::string lamp;
  bool report = false;
  bool record = false;
  std::optional<double> csv_of;  ///< number of the capture, from 1
  std::string csv_file;
  LibraryOption library;
  OutputOptions output;
};

void show_label(Screen& screen, const LampRecord& lamp) {
  Table table({"", ""});
  const Nominal& nominal = lamp.nominal;
  if (nominal.voltage_v) table.add({"nominal voltage", quantity(*nominal.voltage_v, "V")});
  if (nominal.frequency_hz) table.add({"nominal frequency", quantity(*nominal.frequency_hz, "Hz")});
  if (nominal.rated_power_w) table.add({"rated power", quantity(*nominal.rated_power_w, "W")});
  if (nominal.cold_resistance_ohm) table.add({"cold resistance", quantity(*nominal.cold_resistance_ohm, "Ohm")});
  if (nominal.base) table.add({"base", *nominal.base});
  if (nominal.technology) table.add({"technology", spoken(*nominal.technology)});
  if (nominal.label_dimmable) table.add({"label says dimmable", *nominal.label_dimmable ? "yes" : "no"});
  if (!nominal.dc_points.empty()) {
    table.add({"DC table", counted(static_cast<int>(nominal.dc_points.size()), "point")});
  }
  if (!lamp.notes.empty()) table.add({"notes", lamp.notes});
  if (!table.empty()) screen.table(table, 2);
}

std::string origin(const Provenance& provenance) {
  return fmt::format("{}, {}, lampload {}{}{}", provenance.person, provenance.time_utc, provenance.program_version,
                     provenance.instrument.empty() ? "" : ", ", provenance.instrument);
}

/// The samples of one capture, as `lampload inspect` reads them back.
int write_csv(const ShowOptions& options) {
  const LampRecord lamp = options.library.open_existing(Library::Access::read_only).lamp(options.lamp, true);
  const auto number = static_cast<std::size_t>(*options.csv_of);
  if (number > lamp.captures.size()) {
    throw Error(ErrorCode::not_found,
                fmt::format("{} has no capture {}, only {}", lamp.name, number,
                            counted(static_cast<int>(lamp.captures.size()), "capture")),
                {}, "'lampload show' lists them in order.");
  }
  const StoredCapture& stored = lamp.captures[number - 1];
  if (stored.figures_only) {
    throw Error(ErrorCode::not_found,
                fmt::format("of capture {} of {} only the figures came here, not its samples", number, lamp.name), {},
                "Ask for a lamp model file with captures where it comes from");
  }
  write_output(
      options.csv_file,
      capture_csv(stored.capture, fmt::format("capture {} of {}: {}\nsha256 of the file it was read from: {}", number,
                                              printable(lamp.name), printable(stored.capture.file), stored.sha256)));
  return 0;
}

/// The record as it came, or as it would be shared now, without its captures' samples.
int write_record(const ShowOptions& options) {
  const Library library = options.library.open_existing(Library::Access::read_only);
  const SharedNote note = passed_on(library, options.lamp, {});
  if (!options.output.quiet && !note.revoked.empty()) {
    Screen(stderr).paragraph("caution: " + note.revoked, 0, Style::warning);
  }
  write_output(options.csv_file, json_text(lamp_file_text(std::span(&note.lamp, 1))));
  return 0;
}

int show_lamp(const ShowOptions& options) {
  if (options.csv_of) return write_csv(options);
  if (options.record) return write_record(options);
  const LampRecord lamp = options.library.open_existing(Library::Access::read_only).lamp(options.lamp);
  if (options.output.json) {
    fmt::print("{}", show_json(lamp, options.report));
    return 0;
  }
  Screen screen(stdout);
  screen.paragraph(lamp.fit ? fmt::format("{}: {}", lamp.name, fit_in_short(*lamp.fit, lamp.captures))
                            : lamp.name + ": not fitted yet",
                   0, Style::heading);
  show_label(screen, lamp);
  for (const StoredCapture& capture : lamp.captures) {
    screen.line();
    screen.line(capture.capture.file, Style::heading);
    show_figures(screen, capture);
    if (capture.sample != first_sample) screen.paragraph("of sample " + capture.sample, 2);
    if (capture.figures_only) screen.paragraph("Only its figures came here, not its samples.", 2);
    screen.paragraph((capture.received ? "measured by " : "stored by ") + origin(capture.provenance), 2);
    screen.paragraph("SHA-256 " + capture.sha256, 2);
  }
  if (lamp.fit) {
    screen.line();
    show_fit(screen, *lamp.fit);
    show_samples(screen, *lamp.fit);
    screen.paragraph(
        fmt::format("Fitted by {}; newest of {}.", origin(lamp.fit->provenance), counted(lamp.fits, "fit")), 2);
    if (options.report) {
      screen.line();
      show_reports(screen, *lamp.fit);
    }
  }
  screen.line();
  show_basis(screen, lamp, basis_of(lamp));
  if (!lamp.comparisons.empty()) {
    screen.line();
    screen.line("Finished channels", Style::heading);
    for (const StoredComparison& stored : lamp.comparisons) {
      const bool earlier = !lamp.fit || stored.fit_id != lamp.fit->id;
      screen.paragraph(comparison_in_short(stored) + (earlier ? " (by an earlier fit)" : ""), 2);
    }
  }
  return 0;
}

}  // namespace

void add_show(Command& program) {
  auto options = std::make_shared<ShowOptions>();
  Command command = program.command("show", "Everything stored about a lamp");
  add_lamp_name(command, "lamp", options->lamp, "Lamp in the library");
  add_report_option(command, options->report);
  command.option("--csv", options->csv_of, "The samples of this capture, in the order listed, as CSV instead")
      .check(whole_number(1, 1000000))
      .shown_as("N");
  command.flag("--record", options->record,
               "The lamp as a lamp model file instead; one that came in a file as it came");
  command.option("--output", options->csv_file, "Where the CSV or the file goes; default: standard output")
      .shown_as("FILE");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload show 'clubroom pendant'\n"
      "  lampload show 'clubroom pendant' --report\n"
      "  lampload show 'clubroom pendant' --csv 2 --output turn_on.csv\n"
      "  lampload show 'stair candle' --json");
  command.runs([options] { return show_lamp(*options); });
}

}  // namespace lampload
