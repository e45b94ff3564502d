#include <fmt/format.h>

#include <memory>

#include "cli/basis.h"
#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/spice_text.h"
#include "cli/stored_lamps.h"
#include "cli/terminal.h"
#include "db/library.h"

namespace lampload {
namespace {

struct SpiceOptions {
  std::string lamp;
  std::string name;
  bool spread = false;
  std::string file;
  LibraryOption library;
  OutputOptions output;
};

int write_circuit(const SpiceOptions& options) {
  const LampRecord record = options.library.open_existing(Library::Access::read_only).lamp(options.lamp);
  const std::string name = options.name.empty() ? subcircuit_name(record.name) : options.name;
  const std::string text = spice_text(record, name, options.spread);
  std::vector<std::string> cautions;
  if (const std::string caution = short_caution_of(record); !caution.empty()) cautions.push_back(caution);
  tell_cautions(cautions, options.output.quiet);
  if (options.output.json) {
    if (!options.file.empty()) write_output(options.file, text);
    fmt::print("{}", spice_json({record.name, name, record.fit->family, record.fit->load_law, options.spread,
                                 options.file, text, cautions}));
    return 0;
  }
  write_output(options.file, text);
  if (!options.file.empty()) {
    Screen(stdout).paragraph(fmt::format("{}: subcircuit {} in {}", record.name, name, options.file));
  }
  return 0;
}

std::string refusal_of_subcircuit(const std::string& name) {
  return subcircuit_name(name) == name ? ""
                                       : "'" + name +
                                             "' is no name of a subcircuit: a letter, then letters of lower "
                                             "case, digits and single underscores";
}

}  // namespace

void add_spice(Command& program) {
  auto options = std::make_shared<SpiceOptions>();
  Command command = program.command("spice", "A lamp's equivalent circuit as a subcircuit for ngspice");
  add_lamp_name(command, "lamp", options->lamp, "Lamp in the library");
  command.flag("--spread", options->spread,
               "Draw the parameters anew in every run: what the captures leave open, and the spread between pieces");
  command.option("--name", options->name, "Name of the subcircuit (default: made of the lamp's)")
      .check(refusal_of_subcircuit)
      .shown_as("NAME");
  command.option("-o,--output", options->file, "Where the circuit goes, instead of standard output").shown_as("FILE");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload spice 'clubroom pendant' -o clubroom_pendant.cir\n"
      "  lampload spice 'clubroom pendant' --spread > clubroom_pendant_spread.cir\n\n"
      "In a circuit of your own:\n"
      "  .include clubroom_pendant.cir\n"
      "  X1 live neutral clubroom_pendant\n"
      "The file ends with a whole circuit in comments that uses it: take '*: ' off, and run it with ngspice -b.\n"
      "Behind an inductance and a switch ngspice converges with a few hundred ohm across the inductance, ramps of\n"
      "5 us at the switch, and .options method=gear maxord=2 gmin=1e-10 rshunt=1e9. Look at what it says: a run that\n"
      "broke off leaves a short output that looks fine.");
  command.runs([options] { return write_circuit(*options); });
}

}  // namespace lampload
