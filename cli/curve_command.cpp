#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <thread>

#include "cli/commands.h"
#include "cli/curve_output.h"
#include "cli/fitting.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/stored_lamps.h"
#include "core/error.h"
#include "core/parallel.h"

namespace lampload {
namespace {

constexpr double fine_step_deg = 2.5;    // of the sweep that is inverted
constexpr double coarse_step_deg = 5.0;  // of those that only widen the limits

struct CurveOptions {
  std::string lamp;
  std::string channel;
  std::string mode;
  double count = 1.0;
  std::string target = "lightness";
  std::optional<double> steps;
  std::string of;
  std::string below = "hold";
  double bits = 16.0;
  std::optional<double> ticks;
  std::string integer = "conduction";
  std::string format;
  std::string file;
  LibraryOption library;
  OutputOptions output;
};

LevelLaw law_of(const std::string& word) {
  for (const LevelLaw law : {LevelLaw::linear, LevelLaw::square, LevelLaw::logarithmic}) {
    if (law_name(law) == word) return law;
  }
  return LevelLaw::lightness;
}

/// The one that dims, or the best of several.
Mode best_mode(const NamedLamps& lamp, const Channel& channel) {
  const std::vector<Mode> modes = dimming_modes(channel);
  if (modes.empty()) {
    throw Error(ErrorCode::input_refused, fmt::format("channel '{}' does not dim", channel.name), Place{},
                "Name a phase-cut channel, or one with a DC output");
  }
  if (modes.size() == 1) return modes.front();
  for (const ModeVerdict& verdict : recommend(lamp.evidence, channel).modes) {
    if (std::find(modes.begin(), modes.end(), verdict.mode) != modes.end()) return verdict.mode;
  }
  return modes.front();
}

/// The nominal supply with all lamps, its tolerance, and a single lamp.
std::vector<DimmingCurve> curves_of(const Channel& channel, Mode mode, const Lamp& lamp, int count) {
  const bool dc = setting_of(mode) == Setting::duty;
  const double nominal_v = dc ? channel.output.supply_voltage_v.value_or(0.0) : channel.supply.voltage_v;
  const double tolerance = channel.supply.tolerance_percent / 100.0;
  struct Case {
    double supply_v;
    int count;
  };
  std::vector<Case> cases = {{nominal_v, count}};
  if (mode != Mode::dc_constant_current && tolerance > 0.0) {
    cases.push_back({nominal_v * (1.0 - tolerance), count});
    cases.push_back({nominal_v * (1.0 + tolerance), count});
  }
  if (count > 1) cases.push_back({nominal_v, 1});
  std::vector<DimmingCurve> curves(cases.size());
  in_parallel(cases.size(), std::thread::hardware_concurrency(), [&](std::size_t i) {
    const LampGroup group{lamp, cases[i].count};
    DimmingOptions options{.step_deg = i == 0 ? fine_step_deg : coarse_step_deg};
    if (cases[i].supply_v > 0.0) options.supply_v = cases[i].supply_v;
    curves[i] = dimming_curve(channel, mode, std::span(&group, 1), options);
  });
  return curves;
}

LevelTableOptions table_options(const CurveOptions& options, bool light_is_known) {
  LevelTableOptions table;
  table.law = law_of(options.target);
  table.levels = static_cast<int>(options.steps.value_or(table.law == LevelLaw::logarithmic ? 254.0 : 255.0));
  // Lightness and the other laws of seeing speak of light; linear is what a person asks for to get power.
  table.of_light = options.of.empty() ? light_is_known && table.law != LevelLaw::linear : options.of == "light";
  table.below = options.below == "off"      ? BelowRange::off
                : options.below == "spread" ? BelowRange::spread
                                            : BelowRange::hold;
  table.full_count = static_cast<std::int64_t>(options.ticks.value_or(std::exp2(options.bits) - 1.0));
  table.count_delay = options.integer == "delay";
  return table;
}

int curve_for(const CurveOptions& options) {
  const NamedLamps lamp = stored_lamp(options.lamp, options.library);
  const Channel channel = choose_channel(options.channel, options.library).channel;
  LampCurve curve;
  curve.lamp = lamp.name;
  curve.cautions = cautions_of({lamp});
  curve.channel = channel.name;
  curve.count = static_cast<int>(options.count);
  const Mode mode = options.mode.empty() ? best_mode(lamp, channel) : mode_on(channel, options.mode);
  curve.curves = curves_of(channel, mode, *lamp.evidence.lamp, curve.count);
  curve.range = range_for_all(curve.curves);
  curve.options = table_options(options, !curve.nominal().light_law.empty());
  tell_cautions(curve.cautions, options.output.quiet);
  const bool json = options.output.json || options.format == "json";
  const bool file_wanted = !json && !options.format.empty();
  if (curve.range.runs || file_wanted) curve.table = level_table(curve.nominal(), curve.range, curve.options);

  if (json) {
    write_output(options.file, curve_json(curve));
  } else if (options.format == "csv") {
    write_output(options.file, curve_csv(curve));
  } else if (options.format == "c") {
    write_output(options.file, curve_c(curve));
  } else {
    Screen screen(stdout);
    show_curve(screen, curve);
  }
  return curve.range.runs && curve.range.steady ? 0 : status_does_not_hold;
}

void add_table_options(Command& command, CurveOptions& options) {
  const std::string heading = "Level table";
  command
      .option("--target", options.target, "What a level stands for: linear, square, lightness (default), logarithmic")
      .one_of({"linear", "square", "lightness", "logarithmic"})
      .shown_as("LAW")
      .under(heading);
  command.option("--steps", options.steps, "Levels above 0, which is off (default 255; 254 with logarithmic)")
      .check(whole_number(1, 65535))
      .shown_as("N")
      .under(heading);
  command
      .option("--of", options.of,
              "What the law speaks of; default: power with linear, else light where the lamp's circuit shows it")
      .one_of({"power", "light"})
      .shown_as("power|light")
      .under(heading);
  command.option("--below", options.below, "Levels below the smallest steady one: held at it (default), off, or none")
      .one_of({"hold", "off", "spread"})
      .shown_as("hold|off|spread")
      .under(heading);
  command.option("--bits", options.bits, "Integers from 0 to 2^BITS - 1 for a whole half cycle or period (default 16)")
      .check(whole_number(1, 32))
      .shown_as("BITS")
      .under(heading);
  command.option("--ticks", options.ticks, "Timer ticks of a whole half cycle or period, instead of --bits")
      .check(whole_number(1, 4294967295))
      .shown_as("N")
      .under(heading);
  command
      .option("--integer", options.integer,
              "What integers count: conduction (default), or the delay from zero crossing to firing")
      .one_of({"conduction", "delay"})
      .shown_as("conduction|delay")
      .under(heading);
  command.option("--format", options.format, "The table alone, as csv, json or c (a header)")
      .one_of({"csv", "json", "c"})
      .shown_as("csv|json|c")
      .under(heading);
  command.option("--output", options.file, "Where the table goes, instead of standard output")
      .shown_as("FILE")
      .under(heading);
}

}  // namespace

void add_curve(Command& program) {
  auto options = std::make_shared<CurveOptions>();
  Command command =
      program.command("curve", "How a lamp dims on a channel, and the table from level to angle or duty for firmware");
  command.option("lamp", options->lamp, "Lamp in the library").required().shown_as("NAME");
  command.option("--channel", options->channel, "A channel file, or a channel in the library")
      .required()
      .shown_as("NAME|FILE");
  command.option("--count", options->count, "Lamps on the channel (default 1)")
      .check(whole_number(1, 100000))
      .shown_as("N");
  command
      .option("--mode", options->mode,
              "leading_edge, trailing_edge, dc_pwm or dc_constant_current; default: the best that the channel can do")
      .shown_as("MODE");
  add_table_options(command, *options);
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload curve 'clubroom pendant' --channel 'stair dimmer' --count 4\n"
      "  lampload curve 'stair candle' --channel stair_dimmer.json --target logarithmic --format csv\n"
      "  lampload curve 'stair candle' --channel 'stair dimmer' --mode leading_edge --integer delay \\\n"
      "    --ticks 10000 --format c --output stair_candle_curve.h\n\n"
      "Exit status 1 says: done, and the lamps do not run steadily at any setting.");
  command.runs([options] { return curve_for(*options); });
}

}  // namespace lampload
