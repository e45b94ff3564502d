#pragma once
// Options that several commands share, and the plain structs they fill.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "cli/command_line.h"
#include "cli/library_option.h"
#include "cli/terminal.h"
#include "core/capture/capture.h"
#include "db/library.h"

namespace lampload {

struct OutputOptions {
  bool json = false;
  bool quiet = false;
  bool verbose = false;

  [[nodiscard]] Telling telling() const {
    return quiet ? Telling::nothing : verbose ? Telling::everything : Telling::usual;
  }
};

/// What --label-dimmable says; "unknown" is an answer too.
struct LabelOption {
  bool given = false;
  std::optional<bool> dimmable;
};

struct CaptureArguments {
  std::vector<std::string> files;
  CaptureOptions options;
  Nominal nominal;
  std::string instrument;
  std::string sample;  ///< which piece; empty: not said
};

/// For options that take a whole number.
Check whole_number(std::int64_t from, std::int64_t to);
Check number_above_zero();

void add_output_options(Command& command, OutputOptions& output);
void add_library_option(Command& command, LibraryOption& library);
void add_channel_option(Command& command, std::string& channel, const std::string& meaning);
enum class Captures { required, optional };
/// CAPTURE..., and how its columns are read.
void add_capture_files(Command& command, CaptureArguments& arguments, Captures need = Captures::required);
/// The same, and what the label and the place say.
void add_capture_arguments(Command& command, CaptureArguments& arguments, Captures need = Captures::required);
void add_nominal_options(Command& command, Nominal& nominal);
void add_label_option(Command& command, LabelOption& label);
/// Cap and technology, stored with a lamp.
void add_lamp_kind_options(Command& command, Nominal& nominal);
/// Steady points at DC, read by read_dc_table().
void add_dc_table_option(Command& command, std::string& file);
/// What of a stored label is to be taken back: words of Library::label_words().
void add_forget_option(Command& command, std::vector<std::string>& words);

/// How the fit came about, beside what it found.
void add_report_option(Command& command, bool& report);
void add_instrument_option(Command& command, std::string& instrument);
/// Which piece of the lamp type the captures are of.
void add_sample_option(Command& command, std::string& sample);
/// keep, replace or add, for lamps that come from elsewhere; conflict_way() of what was given.
void add_conflict_option(Command& command, std::string& way);
OnConflict conflict_way(const std::string& word);
/// A name as the library takes it; `what` it names, for the answer.
std::string refusal_of_name(const std::string& name, const std::string& what);
/// The name of a lamp: not empty, no control characters.
void add_lamp_name(Command& command, const std::string& option, std::string& name, const std::string& meaning);

/// What to read at the end of a measuring command's help.
std::string help_with_cautions(const std::string& examples);
/// The usual cautions of measuring on mains.
const std::string& measuring_cautions();

}  // namespace lampload
