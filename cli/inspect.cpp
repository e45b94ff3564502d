#include <fmt/format.h>

#include <memory>

#include "cli/capture_guide.h"
#include "cli/commands.h"
#include "cli/json_output.h"
#include "cli/measuring.h"
#include "cli/output_file.h"
#include "cli/screens.h"
#include "core/capture/text_table.h"
#include "core/error.h"

namespace lampload {
namespace {

struct InspectOptions {
  CaptureArguments captures;
  std::string layout_file;
  std::string guide;
  OutputOptions output;
};

/// The layout as it is detected, whether or not the file can be read with it: that is what a person then puts right.
int write_layout(const InspectOptions& options) {
  if (options.captures.files.size() != 1) {
    throw Error(ErrorCode::usage, "--write-layout takes one capture", {}, "Name one file.");
  }
  write_output(options.layout_file == "-" ? "" : options.layout_file,
               layout_text_of(options.captures.files.front(), options.captures.options));
  return 0;
}

int inspect(const InspectOptions& options) {
  if (!options.guide.empty()) {
    if (!options.captures.files.empty()) {
      throw Error(ErrorCode::usage, "--guide says how to measure, and takes no captures", {},
                  "Give either captures or --guide.");
    }
    const CaptureGuide guide = capture_guide(options.guide);
    Screen screen(stdout);
    if (options.output.json) {
      fmt::print("{}", guide_json(guide));
    } else {
      show_guide(screen, guide);
    }
    return 0;
  }
  if (options.captures.files.empty()) {
    throw Error(ErrorCode::usage, "no capture is named", {},
                "Name the files, or ask with --guide how to measure; see 'lampload inspect --help'.");
  }
  if (!options.layout_file.empty()) return write_layout(options);
  const std::vector<StoredCapture> captures = read_and_measure(options.captures, options.output.telling());
  if (options.output.json) {
    fmt::print("{}", inspect_json(captures));
    return 0;
  }
  Screen screen(stdout);
  for (const StoredCapture& capture : captures) {
    if (&capture != &captures.front()) screen.line();
    screen.line(capture.capture.file, Style::heading);
    show_answer(screen, capture);
    show_figures(screen, capture);
    show_preview(screen, capture, preview_of(capture));
  }
  return 0;
}

}  // namespace

void add_inspect(Command& program) {
  auto options = std::make_shared<InspectOptions>();
  Command command =
      program.command("inspect", "Show what a capture holds: figures, quality, waveforms, harmonics; stores nothing");
  add_capture_arguments(command, options->captures, Captures::optional);
  command
      .option("--write-layout", options->layout_file,
              "Write how the text is laid out, to be put right and given as --layout; - for standard output")
      .shown_as("FILE");
  command
      .option("--guide", options->guide,
              "How to measure such a lamp: captures, ranges, rates, trigger, probes; no capture")
      .one_of(guided_lamps())
      .shown_as("LAMP-KIND");
  add_output_options(command, options->output);
  command.footer(
      help_with_cautions("Examples:\n"
                         "  lampload inspect sample_captures/simulated_clubroom_pendant_60w/steady.csv\n"
                         "  lampload inspect stair_candle.csv --voltage-scale 100 --invert-current\n"
                         "  lampload inspect batten.csv --time-column 1 --voltage-column 3 --current-column 2 --json\n"
                         "  lampload inspect --guide led-lamp"));
  command.runs([options] { return inspect(*options); });
}

}  // namespace lampload
