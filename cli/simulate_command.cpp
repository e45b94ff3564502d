#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <memory>
#include <nlohmann/json.hpp>

#include "cli/commands.h"
#include "cli/fitting.h"
#include "cli/json_output.h"
#include "cli/json_text.h"
#include "cli/options.h"
#include "cli/output_file.h"
#include "cli/quantity.h"
#include "cli/screens.h"
#include "cli/stored_lamps.h"
#include "cli/version.h"
#include "core/advice/dimming.h"
#include "core/advice/simulation.h"
#include "core/error.h"

namespace lampload {
namespace {

struct SimulateOptions {
  std::vector<std::string> lamps;
  std::string channel;
  std::string mode;
  std::optional<double> angle_deg;
  std::optional<double> duty;
  std::optional<double> turn_on_deg;
  std::optional<double> supply_v;
  double cycles = 10.0;
  std::optional<double> sample_interval_s;
  std::string file;
  LibraryOption library;
  OutputOptions output;
};

struct Simulated {
  std::vector<NamedLamps> lamps;
  Channel channel;
  SimulationSetup setup;
  SimulatedRecord record;
  StoredCapture capture;  ///< what a scope at the terminals would have stored
};

SimulationSetup setup_of(const SimulateOptions& options, const Channel& channel) {
  SimulationSetup setup;
  setup.mode = mode_on(channel, options.mode);
  const auto refuse = [&](const char* message, const char* remedy) {
    throw Error(ErrorCode::usage, fmt::format("{} with mode {}", message, mode_name(setup.mode)), Place{}, remedy);
  };
  const bool dims = has_setting(setup.mode);
  const bool by_duty = dims && setting_of(setup.mode) == Setting::duty;
  if (options.angle_deg && (!dims || by_duty))
    refuse("--angle has no meaning", "Leave it out, or ask for another mode");
  if (options.duty && !by_duty) refuse("--duty has no meaning", "Leave it out, or ask for another mode");
  if (dims && !by_duty && !options.angle_deg) refuse("--angle is required", "Give the conduction angle in degrees");
  if (by_duty && !options.duty) refuse("--duty is required", "Give a duty from 0 to 1");
  setup.setting = options.angle_deg.value_or(options.duty.value_or(180.0));
  setup.turn_on_deg = options.turn_on_deg;
  setup.supply_v = options.supply_v;
  setup.cycles = static_cast<int>(options.cycles);
  setup.sample_interval_s = options.sample_interval_s;
  return setup;
}

std::string setting_in_words(const SimulationSetup& setup) {
  if (!has_setting(setup.mode)) return "";
  if (setting_of(setup.mode) == Setting::duty) return fmt::format(", duty {:g}", setup.setting);
  return fmt::format(", {:g} deg conduction", setup.setting);
}

std::string what_it_is(const Simulated& s) {
  const std::string mode = s.setup.mode == Mode::on_off ? "on/off" : spoken(mode_name(s.setup.mode));
  return fmt::format("{} on {}, {}{}, {}", lamps_in_words(s.lamps), s.channel.name, mode, setting_in_words(s.setup),
                     s.setup.turn_on_deg ? fmt::format("switched on cold at {:g} deg", *s.setup.turn_on_deg)
                                         : std::string("in steady operation"));
}

/// What `lampload inspect` reads back: the header says which of the columns are the lamps' own.
std::string csv_of(const Simulated& s) {
  std::string text =
      fmt::format("# simulated by lampload {}, not measured\n# {}\n", program_version, printable(what_it_is(s)));
  for (std::size_t k = 0; k < s.lamps.size(); ++k) {
    text += fmt::format("# lamps_{}_current_a: {} x {}\n", k + 1, s.lamps[k].count, printable(s.lamps[k].name));
  }
  for (const std::string& caution : cautions_of(s.lamps)) text += "# caution: " + printable(caution) + "\n";
  text += "# voltage column: terminal_v\n# current column: current_a\n";
  text += "time_s,supply_v,terminal_v,current_a";
  for (std::size_t k = 0; k < s.lamps.size(); ++k) text += fmt::format(",lamps_{}_current_a", k + 1);
  text += "\n";
  const SimulatedRecord& r = s.record;
  text.reserve(text.size() + r.current_a.size() * (50 + 14 * s.lamps.size()));
  auto out = std::back_inserter(text);
  for (std::size_t i = 0; i < r.current_a.size(); ++i) {
    fmt::format_to(out, "{:.10g},{:.7g},{:.7g},{:.7g}", static_cast<double>(i) * r.sample_interval_s, r.supply_v[i],
                   r.terminal_v[i], r.current_a[i]);
    for (const std::vector<double>& lamps_a : r.lamps_a) fmt::format_to(out, ",{:.7g}", lamps_a[i]);
    text += "\n";
  }
  return text;
}

std::string json_of(const Simulated& s, const std::string& file) {
  using Json = nlohmann::ordered_json;
  Json lamps = Json::array();
  for (std::size_t k = 0; k < s.lamps.size(); ++k) {
    double square = 0.0, peak = 0.0;
    for (const double current_a : s.record.lamps_a[k]) {
      square += current_a * current_a;
      peak = std::max(peak, std::abs(current_a));
    }
    lamps.push_back({{"lamp", s.lamps[k].name},
                     {"count", s.lamps[k].count},
                     {"current_rms_a", std::sqrt(square / static_cast<double>(s.record.lamps_a[k].size()))},
                     {"current_peak_a", peak}});
  }
  const bool has = has_setting(s.setup.mode);
  const bool duty = has && setting_of(s.setup.mode) == Setting::duty;
  const Json document = {{"simulated", true},
                         {"lamps", std::move(lamps)},
                         {"channel", s.channel.name},
                         {"mode", mode_name(s.setup.mode)},
                         {"conduction_deg", has && !duty ? Json(s.setup.setting) : Json(nullptr)},
                         {"duty", duty ? Json(s.setup.setting) : Json(nullptr)},
                         {"turn_on_deg", s.setup.turn_on_deg ? Json(*s.setup.turn_on_deg) : Json(nullptr)},
                         {"settled", s.record.settled},
                         {"file", file.empty() ? Json(nullptr) : Json(file)},
                         {"capture", Json::parse(inspect_json({s.capture}))["captures"][0]},
                         {"cautions", cautions_of(s.lamps)}};
  return document_text(document);
}

int simulate_for(const SimulateOptions& options) {
  Simulated s;
  s.channel = choose_channel(options.channel, options.library).channel;
  s.setup = setup_of(options, s.channel);
  s.lamps = stored_lamps(options.lamps, options.library);
  s.record = simulate(s.channel, groups_of(s.lamps), s.setup);
  s.capture.capture.file = options.file.empty() ? "simulated" : options.file;
  s.capture.capture.sample_interval_s = s.record.sample_interval_s;
  s.capture.capture.voltage_v = s.record.terminal_v;
  s.capture.capture.current_a = s.record.current_a;
  s.capture.figures = measure(s.capture.capture);
  tell_cautions(cautions_of(s.lamps), options.output.quiet);
  if (!options.file.empty()) write_output(options.file, csv_of(s));

  if (options.output.json) {
    fmt::print("{}", json_of(s, options.file));
    return 0;
  }
  Screen screen(stdout);
  screen.paragraph("Simulated: " + what_it_is(s), 0, Style::heading);
  if (!s.record.settled) {
    screen.paragraph("No steady state was found: the half cycles differ from each other.", 2, Style::warning);
  }
  screen.line();
  screen.line(s.capture.capture.file, Style::heading);
  show_figures(screen, s.capture);
  screen.line();
  screen.paragraph(options.file.empty() ? std::string("The waveforms were not kept; --output FILE writes them.")
                                        : fmt::format("Waveforms: {}; 'lampload inspect' reads them.", options.file),
                   0);
  return 0;
}

}  // namespace

void add_simulate(Command& program) {
  auto options = std::make_shared<SimulateOptions>();
  Command command =
      program.command("simulate", "What stored lamps do on a channel: waveforms as CSV, and their figures");
  command.option("lamp", options->lamps, "Lamps in the library, with their counts: 'stair candle=4' 'clubroom pendant'")
      .required()
      .shown_as("NAME[=COUNT]...");
  command.option("--channel", options->channel, "A channel file, or a channel in the library")
      .required()
      .shown_as("NAME|FILE");
  command.option("--mode", options->mode, "leading_edge, trailing_edge, on_off, dc_pwm or dc_constant_current")
      .required()
      .shown_as("MODE");
  command.option("--angle", options->angle_deg, "Conduction angle of each half cycle, of the phase-cut modes")
      .check(number_above_zero())
      .shown_as("DEG");
  command.option("--duty", options->duty, "Share of each period that is on, of the DC modes")
      .check(number_above_zero())
      .shown_as("SHARE");
  command
      .option("--turn-on", options->turn_on_deg,
              "From cold, the switch closing at this phase of a half cycle (0 to 180) after an open cycle; without it, "
              "steady operation")
      .shown_as("DEG");
  command.option("--supply", options->supply_v, "Supply voltage, rms or DC, in place of the channel's nominal one")
      .check(number_above_zero())
      .shown_as("V");
  command.option("--cycles", options->cycles, "Cycles of the mains or of the pulses (default 10)")
      .check(whole_number(1, 10000))
      .shown_as("N");
  command
      .option("--sample-interval", options->sample_interval_s,
              "Between samples (default 10 us on mains, a 400th of a period on pulses)")
      .check(number_above_zero())
      .shown_as("SECONDS");
  command.option("--output", options->file, "Where the waveforms go").shown_as("FILE");
  add_library_option(command, options->library);
  add_output_options(command, options->output);
  command.footer(
      "Examples:\n"
      "  lampload simulate 'stair candle=4' --channel 'stair dimmer' --mode trailing_edge --angle 90 \\\n"
      "    --output stair_90deg.csv\n"
      "  lampload simulate 'stair candle=4' 'clubroom pendant=2' --channel clubroom_dimmer.json \\\n"
      "    --mode on_off --turn-on 90 --json\n"
      "  lampload simulate 'rack strip' --channel 'rack dimmer' --mode dc_pwm --duty 0.25");
  command.runs([options] { return simulate_for(*options); });
}

}  // namespace lampload
