// What the channel makes of the lamp: inrush, dimming, and every constraint over the number of lamps.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "cli/advice_output.h"
#include "cli/quantity.h"
#include "cli/report/lamp_report.h"
#include "cli/screens.h"
#include "core/advice/dimming.h"
#include "core/advice/start_envelope.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr int most_half_cycles = 40;

/// Highest magnitude of each half cycle from the turn-on, as captured.
std::vector<double> measured_envelope(const StoredCapture& stored) {
  const Capture& capture = stored.capture;
  const double half = 0.5 * capture.sample_rate_hz() / *stored.figures.mains_frequency_hz;
  std::vector<double> peaks;
  for (int k = 0; k < most_half_cycles; ++k) {
    const auto from = stored.figures.turn_on->sample + static_cast<std::size_t>(k * half);
    const auto to = stored.figures.turn_on->sample + static_cast<std::size_t>((k + 1) * half);
    if (to > capture.samples()) break;
    double peak = 0.0;
    for (std::size_t s = from; s < to; ++s) {
      peak = std::max(peak, std::abs(capture.current_a[s] - stored.figures.current_offset_a));
    }
    peaks.push_back(peak);
  }
  return peaks;
}

PlotSeries steps(std::string label, Role role, const std::vector<double>& peaks) {
  PlotSeries series{.label = std::move(label), .role = role};
  for (std::size_t k = 0; k < peaks.size(); ++k) {
    series.x.push_back(static_cast<double>(k));
    series.y.push_back(peaks[k]);
  }
  return series;
}

std::vector<std::vector<std::string>> rows_of(const std::vector<double>& first, const std::vector<double>& second) {
  std::vector<std::vector<std::string>> rows;
  for (std::size_t k = 0; k < std::max(first.size(), second.size()); ++k) {
    std::vector<std::string> row = {std::to_string(k + 1), k < first.size() ? quantity(first[k], "A", 3) : "-"};
    if (!second.empty()) row.push_back(k < second.size() ? quantity(second[k], "A", 3) : "-");
    rows.push_back(std::move(row));
  }
  return rows;
}

void add_measured_inrush(ReportPage& page, const StoredCapture& stored) {
  const std::vector<double> peaks = measured_envelope(stored);
  if (peaks.empty()) return;
  Plot plot;
  plot.kind = Plot::Kind::steps;
  plot.title = "Inrush of one lamp, " + stored.capture.file;
  plot.x_label = "half cycles since the turn-on";
  plot.panels.push_back({"highest current", "A", 140, {steps("measured", Role::measured, peaks)}, {}});
  std::string inrush;
  if (stored.figures.inrush) {
    const Inrush& i = *stored.figures.inrush;
    inrush =
        fmt::format("{} peak, {} wide at half of it, I2t {}, switched on at {:.0f} deg", quantity(i.peak_a, "A", 3),
                    quantity(i.width_s, "s", 3), quantity(i.i2t_a2s, "A2s", 3), i.phase_deg);
  }
  page.add(
      std::move(plot), fmt::format("Envelope of the inrush in {}: {}", stored.capture.file, inrush),
      fmt::format("The highest current of each half cycle after the turn-on in {}: {}. The waveform itself is among "
                  "the captures.",
                  stored.capture.file, inrush),
      {"half cycle", "highest current"}, rows_of(peaks, {}));
}

std::optional<double> level_of(const ModeVerdict& verdict, std::string_view name) {
  for (const ConstraintResult& one : verdict.constraints) {
    if (one.name == name) return one.limit;
  }
  return std::nullopt;
}

/// The recommended count on the channel, cold, closed at the crest and at the zero crossing.
void add_channel_inrush(ReportPage& page, const LampReport& lamp) {
  if (!lamp.advice || !lamp.evidence.lamp || !fed_by_mains(lamp.advice->channel)) return;
  const Recommendation& r = lamp.advice->recommendation;
  if (r.modes.empty()) return;
  const int count = std::max(1, r.max_lamps);
  const Channel& channel = lamp.advice->channel;
  const Path path = path_of(channel, channel.supply.voltage_v * (1.0 + channel.supply.tolerance_percent / 100.0));
  const LampGroup group{*lamp.evidence.lamp, count};
  std::vector<double> crest;
  std::vector<double> zero;
  try {
    crest = start_envelope(path, std::span(&group, 1), 90.0, most_half_cycles);
    zero = start_envelope(path, std::span(&group, 1), 0.0, most_half_cycles);
  } catch (const Error& error) {
    if (error.code() != ErrorCode::calculation) throw;
    return;
  }
  Plot plot;
  plot.kind = Plot::Kind::steps;
  plot.title = fmt::format("Inrush of {} on the channel", counted(count, "lamp"));
  plot.x_label = "half cycles since the turn-on";
  PlotPanel panel{"highest current",
                  "A",
                  160,
                  {steps("switched on at the crest", Role::measured, crest),
                   steps("switched on at the zero crossing", Role::model, zero)},
                  {}};
  for (const char* name : {"surge_peak", "breaker_trip"}) {
    if (const auto limit = level_of(r.modes.front(), name)) panel.levels.push_back({"limit, " + spoken(name), *limit});
  }
  plot.panels.push_back(std::move(panel));
  page.add(std::move(plot),
           fmt::format("Envelope of the simulated inrush of {} on channel {}", counted(count, "lamp"), r.channel),
           fmt::format("Simulated: the fitted lamp (central values) on channel {} at its highest supply, all {} cold. "
                       "Margins and soft start are in the constraints, not in this picture.",
                       r.channel, counted(count, "lamp")),
           {"half cycle", "at the crest", "at the zero crossing"}, rows_of(crest, zero));
}

PlotSeries power_of(std::string label, Role role, const std::vector<DimmingPoint>& points, double lamps) {
  PlotSeries series{.label = std::move(label), .role = role};
  for (const DimmingPoint& point : points) {
    series.x.push_back(point.setting);
    series.y.push_back(point.power_w / lamps);
  }
  return series;
}

void add_dimming(ReportPage& page, const LampReport& lamp, Mode mode) {
  const Channel& channel = lamp.advice->channel;
  const LampGroup group{*lamp.evidence.lamp, 1};
  DimmingCurve curve;
  try {
    curve = dimming_curve(channel, mode, std::span(&group, 1));
  } catch (const Error& error) {
    if (error.code() == ErrorCode::usage) throw;
    page.html.paragraph(page.html.text(fmt::format("{}: not drawn, {}", mode_in_words(mode), error.message())), "soft");
    return;
  }
  const DimmingRange range = range_of(curve);
  const bool angle = setting_of(mode) == Setting::conduction_deg;
  const auto setting = [&](double value) {
    return angle ? fmt::format("{:.0f} deg", value) : fmt::format("{:.1f} %", 100.0 * value);
  };
  Plot plot;
  plot.title = fmt::format("Power over {}, {}", angle ? "conduction angle" : "duty", mode_in_words(mode));
  plot.x_label = angle ? "conduction angle" : "duty";
  plot.x_unit = angle ? "deg" : "";
  plot.panels.push_back({"power into one lamp",
                         "W",
                         170,
                         {power_of("turned up from off", Role::measured, curve.rising, 1.0),
                          power_of("turned down from full", Role::model, curve.falling, 1.0)},
                         {}});
  std::vector<std::vector<std::string>> rows;
  for (std::size_t k = 0; k < curve.rising.size(); ++k) {
    const DimmingPoint& up = curve.rising[k];
    std::vector<std::string> row = {setting(up.setting), quantity(up.power_w, "W", 3), "-",
                                    up.light ? fmt::format("{:.1f} %", 100.0 * *up.light) : "-",
                                    up.steady ? "yes" : "no"};
    for (const DimmingPoint& down : curve.falling) {
      if (std::abs(down.setting - up.setting) < 1e-9) row[2] = quantity(down.power_w, "W", 3);
    }
    rows.push_back(std::move(row));
  }
  const std::string words =
      range.runs ? fmt::format(
                       "One lamp at nominal supply runs from {} to {}, at its lowest with {:.2g} % of the "
                       "power{}",
                       setting(range.min_setting), setting(range.max_setting), 100.0 * range.least_power_share,
                       range.steady ? "" : "; it flickers there")
                 : std::string("The lamp gets no power at any setting");
  page.add(std::move(plot), fmt::format("Power over the setting, {}. {}", mode_in_words(mode), words),
           fmt::format("{}: {}. Solid: turned up from off; dashed: turned down from full.", mode_in_words(mode), words),
           {"setting", "power, turned up", "turned down", "estimated light", "steady"}, rows);
}

/// Value and limit of one constraint over the count.
struct OverCount {
  std::string unit;
  bool minimum = false;
  double limit = 0.0;
  std::vector<double> value, nominal;
  std::vector<int> counts;
  std::vector<bool> holds;
};

void add_constraint(ReportPage& page, const std::string& name, const OverCount& one) {
  Plot plot;
  plot.title = spoken(name);
  plot.title[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(plot.title[0])));
  plot.x_label = "lamps";
  PlotSeries worst{.label = "with all margins", .role = Role::measured};
  PlotSeries central{.label = "central values", .role = Role::second};
  std::vector<std::vector<std::string>> rows;
  std::string from_words;
  for (std::size_t k = 0; k < one.counts.size(); ++k) {
    worst.x.push_back(one.counts[k]);
    worst.y.push_back(one.value[k]);
    central.x.push_back(one.counts[k]);
    central.y.push_back(one.nominal[k]);
    rows.push_back({std::to_string(one.counts[k]), quantity(one.value[k], one.unit, 3),
                    quantity(one.nominal[k], one.unit, 3), quantity(one.limit, one.unit, 3),
                    one.holds[k] ? "yes" : "NO"});
  }
  const auto first_bad = std::find(one.holds.begin(), one.holds.end(), false);
  const std::string verdict =
      first_bad == one.holds.end()
          ? fmt::format("holds up to the {} shown", counted(one.counts.back(), "lamp"))
          : fmt::format("does not hold with {}",
                        counted(one.counts[static_cast<std::size_t>(first_bad - one.holds.begin())], "lamp"));
  const std::string limit = quantity(one.limit, one.unit, 3);
  plot.panels.push_back({one.minimum ? "value, at least the limit" : "value, at most the limit",
                         one.unit,
                         110,
                         {std::move(worst), std::move(central)},
                         {{"limit", one.limit}}});
  const std::string caption =
      fmt::format("{}: {}; limit {}{}.", plot.title, verdict, one.minimum ? "at least " : "", limit);
  page.add(std::move(plot), caption, caption, {"lamps", "with all margins", "central values", "limit", "holds"}, rows);
}

}  // namespace

void write_inrush(ReportPage& page, const LampReport& lamp) {
  const auto turned_on = [](const StoredCapture& one) {
    return !one.figures_only && one.figures.turn_on && one.figures.mains_frequency_hz;
  };
  const bool any = std::any_of(lamp.record.captures.begin(), lamp.record.captures.end(), turned_on);
  if (!any && !lamp.advice) return;
  page.html.heading(2, page.html.text("Inrush"));
  if (!any) page.html.paragraph(page.html.text("No samples of a turn-on on mains are here."), "warning");
  for (const StoredCapture& stored : lamp.record.captures) {
    if (turned_on(stored)) add_measured_inrush(page, stored);
  }
  add_channel_inrush(page, lamp);
}

void write_dimming(ReportPage& page, const LampReport& lamp) {
  if (!lamp.advice || !lamp.evidence.lamp) return;
  const std::vector<Mode> modes = dimming_modes(lamp.advice->channel);
  if (modes.empty()) return;
  page.html.heading(2, page.html.text("Dimming"));
  for (const Mode mode : modes) add_dimming(page, lamp, mode);
}

void write_constraints(ReportPage& page, const LampReport& lamp) {
  if (!lamp.advice || lamp.advice->recommendation.modes.empty()) return;
  Html& html = page.html;
  html.heading(2, html.text("What limits the count"));
  for (const ModeVerdict& mode : lamp.advice->recommendation.modes) {
    const Table table = constraints_table(mode);
    html.table(
        fmt::format("Constraints, {}, with {}", mode_in_words(mode.mode), counted(std::max(1, mode.max_lamps), "lamp")),
        table.headings(), table.rows());
  }
  std::vector<std::string> order;
  std::map<std::string, OverCount> by_name;
  for (std::size_t k = 0; k < lamp.advice->table.size(); ++k) {
    for (const CheckedConstraint& one : lamp.advice->table[k].constraints) {
      if (!std::isfinite(one.value) || !std::isfinite(one.limit)) continue;
      OverCount& over = by_name[one.name];
      if (over.counts.empty()) order.push_back(one.name);
      over.unit = one.unit;
      over.minimum = one.minimum;
      over.limit = one.limit;
      over.value.push_back(one.value);
      over.nominal.push_back(one.nominal_value);
      over.counts.push_back(lamp.advice->counts[k]);
      over.holds.push_back(one.holds);
    }
  }
  if (order.empty()) return;
  html.heading(3, html.text(fmt::format("Value over the number of lamps, {}",
                                        mode_in_words(lamp.advice->recommendation.modes.front().mode))));
  html.open("div", " class=\"several\"");
  for (const std::string& name : order) {
    html.open("div");
    add_constraint(page, name, by_name[name]);
    html.close("div");
  }
  html.close("div");
}

}  // namespace lampload
