#include "cli/curve_output.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "cli/json_text.h"
#include "cli/quantity.h"
#include "cli/version.h"
#include "core/lower_case.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;

bool by_angle(const LampCurve& curve) { return setting_of(curve.nominal().mode) == Setting::conduction_deg; }

const char* setting_key(const LampCurve& curve) { return by_angle(curve) ? "conduction_deg" : "duty"; }

const char* below_name(BelowRange below) {
  switch (below) {
    case BelowRange::hold:
      return "hold";
    case BelowRange::off:
      return "off";
    case BelowRange::spread:
      return "spread";
  }
  return "";
}

const char* law_in_words(LevelLaw law) {
  switch (law) {
    case LevelLaw::linear:
      return "in proportion to the level";
    case LevelLaw::square:
      return "square of the level (square law, IESNA Lighting Handbook)";
    case LevelLaw::lightness:
      return "equal steps of CIE lightness L* (CIE 15, ISO/CIE 11664-4)";
    case LevelLaw::logarithmic:
      return "logarithmic over three decades (IEC 62386-102)";
  }
  return "";
}

const char* of_what(const LampCurve& curve) { return curve.options.of_light ? "light" : "power"; }

std::string setting_in_words(const LampCurve& curve, double setting) {
  return by_angle(curve) ? fmt::format("{:.1f} deg", setting) : fmt::format("{:.4g} %", 100.0 * setting);
}

std::string percent(double share) { return fmt::format("{:.3g} %", 100.0 * share); }

/// What a reader of the file has to know, a line each.
std::vector<std::string> remarks(const LampCurve& curve) {
  const DimmingRange& range = curve.range;
  std::vector<std::string> lines = {
      fmt::format("made by lampload {} from a simulated dimming curve; advice from a model, to be tried on the channel",
                  program_version),
      fmt::format("lamps: {} x {}; channel: {}; mode: {}; supply: {:g} V", curve.count, curve.lamp, curve.channel,
                  mode_name(curve.nominal().mode), curve.nominal().supply_v),
      fmt::format("target: {} of {}, {}; level 0 is off, level {} is full", law_name(curve.options.law), of_what(curve),
                  law_in_words(curve.options.law), curve.options.levels),
      fmt::format("limits: {} {:g} to {:g}; smallest steady level {} of full {}", setting_key(curve), range.min_setting,
                  range.max_setting, percent(curve.table.least_share), of_what(curve)),
      fmt::format("integers count {}: {} stands for {}",
                  curve.options.count_delay ? "the delay from the zero crossing to the firing" : "the conduction",
                  curve.options.full_count, by_angle(curve) ? "a whole half cycle" : "a whole period")};
  if (curve.table.first_reached > 1 && curve.options.below != BelowRange::spread) {
    lines.push_back(fmt::format("levels 1 to {} ask for less than the smallest steady level: {}",
                                curve.table.first_reached - 1,
                                curve.options.below == BelowRange::off ? "off" : "held at it"));
  }
  for (const std::string& caution : curve.cautions) lines.push_back("caution: " + caution);
  if (curve.options.of_light) lines.push_back("light is an estimate: " + curve.nominal().light_law);
  return lines;
}

/// Letters, digits and underscores, not beginning with a digit.
std::string identifier(const std::string& name) {
  std::string word;
  for (const char c : name) {
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
    const bool digit = c >= '0' && c <= '9';
    if (letter || digit) {
      word += lower_case(c);
    } else if (!word.empty() && word.back() != '_') {
      word += '_';
    }
  }
  while (!word.empty() && word.back() == '_') word.pop_back();
  if (word.empty() || (word.front() >= '0' && word.front() <= '9')) word = "lamp_" + word;
  return word;
}

std::string upper_case(std::string word) {
  std::transform(word.begin(), word.end(), word.begin(),
                 [](char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; });
  return word;
}

/// Nothing in it may end a comment of C or begin a line of its own.
std::string in_comment(const std::string& text) {
  std::string safe;
  for (const char c : printable(text)) safe += c == '/' && !safe.empty() && safe.back() == '*' ? ' ' : c;
  std::string plain;
  for (const char c : safe) plain += c == '\\' ? '|' : c;
  return plain;
}

Json points_json(const std::vector<DimmingPoint>& points) {
  Json list = Json::array();
  for (const DimmingPoint& point : points) {
    list.push_back({{"setting", point.setting},
                    {"power_w", point.power_w},
                    {"rms_a", point.rms_a},
                    {"light", point.light ? Json(*point.light) : Json(nullptr)},
                    {"steady", point.steady}});
  }
  return list;
}

Json range_json(const DimmingRange& range) {
  Json jumps = Json::array();
  for (const DimmingJump& jump : range.jumps) {
    jumps.push_back({{"from", jump.from}, {"to", jump.to}, {"share", jump.share}, {"rising", jump.rising}});
  }
  return {{"runs", range.runs},
          {"steady", range.steady},
          {"min_setting", range.min_setting},
          {"max_setting", range.max_setting},
          {"by", range.by_light ? "light" : "power"},
          {"least_share", range.least_share},
          {"least_power_share", range.least_power_share},
          {"full_power_w", range.full_power_w},
          {"starts_at", range.starts_at},
          {"stops_at", range.stops_at},
          {"full_at", range.full_at},
          {"dead_travel", range.dead_travel},
          {"monotonic", range.monotonic()},
          {"falls_by", range.falls_by},
          {"jumps", std::move(jumps)}};
}

void show_behaviour(Screen& screen, const LampCurve& curve) {
  const DimmingRange& range = curve.range;
  screen.paragraph(fmt::format("Limits to set in firmware: {} to {}.", setting_in_words(curve, range.min_setting),
                               setting_in_words(curve, range.max_setting)),
                   2, Style::good);
  double low_v = curve.nominal().supply_v;
  double high_v = low_v;
  for (const DimmingCurve& one : curve.curves) {
    low_v = std::min(low_v, one.supply_v);
    high_v = std::max(high_v, one.supply_v);
  }
  if (high_v > low_v) {
    screen.paragraph(
        fmt::format("They hold from {:.3g} V to {:.3g} V of supply{}; levels are those at {:.3g} V.", low_v, high_v,
                    curve.count > 1 ? fmt::format(" and for 1 to {} lamps", curve.count) : "",
                    curve.nominal().supply_v),
        2);
  }
  const char* level = range.by_light ? "light" : "power";
  const std::string least_power =
      fmt::format("{} of the full {}", percent(range.least_power_share), quantity(range.full_power_w, "W", 3));
  screen.paragraph(range.by_light ? fmt::format("Smallest steady level: {} of full light (an estimate); {}.",
                                                percent(range.least_share), least_power)
                                  : "Smallest steady level: " + least_power + ".",
                   2);
  if (!range.steady) screen.paragraph("The lamps flicker at the upper limit too.", 2, Style::bad);
  if (by_angle(curve)) {
    const double closest = 1.0;  // the sweeps find these within half a degree
    screen.paragraph(
        range.hysteresis() > closest
            ? fmt::format("Brought up from off they come on at {}; brought down they stay on to {}.",
                          setting_in_words(curve, range.starts_at), setting_in_words(curve, range.stops_at))
            : fmt::format("They come on and go out at {}.", setting_in_words(curve, range.starts_at)),
        2);
    screen.paragraph(
        fmt::format("Dead travel (nothing changes): {:.0f} of {:.0f} deg. The {} is full from {} on.",
                    range.dead_travel, range.highest - range.lowest, level, setting_in_words(curve, range.full_at)),
        2);
  }
  for (const DimmingJump& jump : range.jumps) {
    screen.paragraph(fmt::format("Jump of {} of full {} between {} and {}, setting {}.", percent(jump.share), level,
                                 setting_in_words(curve, jump.from), setting_in_words(curve, jump.to),
                                 jump.rising ? "rising" : "falling"),
                     2, Style::warning);
  }
  if (!range.monotonic()) {
    screen.paragraph(
        fmt::format("The {} falls by up to {} of full while the setting rises.", level, percent(range.falls_by)), 2,
        Style::warning);
  }
}

void show_sweep(Screen& screen, const LampCurve& curve) {
  const std::vector<DimmingPoint>& points = curve.nominal().rising;
  const double full_w = points.back().power_w;
  const bool light = !curve.nominal().light_law.empty();
  std::vector<std::string> headings = {by_angle(curve) ? "conduction" : "duty", "power", "of full", "rms current"};
  if (light) headings.emplace_back("light (estimate)");
  Table table(headings);
  constexpr std::size_t most_rows = 16;
  const std::size_t apart = std::max<std::size_t>(1, (points.size() + most_rows - 1) / most_rows);
  for (std::size_t i = (points.size() - 1) % apart; i < points.size(); i += apart) {
    const DimmingPoint& point = points[i];
    std::vector<std::string> cells = {setting_in_words(curve, point.setting), quantity(point.power_w, "W", 3),
                                      full_w > 0.0 ? percent(point.power_w / full_w) : "-",
                                      quantity(point.rms_a, "A", 3) + (point.steady ? "" : " (flickers)")};
    if (light) cells.push_back(point.light ? percent(*point.light) : "-");
    table.add(std::move(cells));
  }
  screen.line();
  screen.line("  Dimming curve, setting rising", Style::heading);
  screen.table(table, 2);
  if (light) screen.paragraph("Light is an estimate: " + curve.nominal().light_law + ".", 2);
}

void show_levels(Screen& screen, const LampCurve& curve) {
  screen.line();
  screen.paragraph(
      fmt::format("Levels: {} of {}, {}", law_name(curve.options.law), of_what(curve), law_in_words(curve.options.law)),
      2, Style::heading);
  Table table({"level", "target", by_angle(curve) ? "conduction" : "duty", "gives", "integer"});
  constexpr int rows = 12;
  int last = -1;
  for (int i = 0; i <= rows; ++i) {
    const int level = static_cast<int>(static_cast<long>(curve.options.levels) * i / rows);
    if (level == last) continue;
    last = level;
    const LevelRow& row = curve.table.rows[static_cast<std::size_t>(level)];
    table.add({std::to_string(level), percent(row.target),
               row.setting > 0.0 ? setting_in_words(curve, row.setting) : "off",
               percent(row.share) + (row.reached ? "" : " (not reached)"), std::to_string(row.count)});
  }
  screen.table(table, 2);
  for (const std::string& line : remarks(curve)) {
    if (line.starts_with("levels 1 to")) screen.paragraph(line + ".", 2, Style::warning);
  }
  if (curve.table.distinct < curve.options.levels) {
    screen.paragraph(
        fmt::format("{} of the {} levels have an integer of their own.", curve.table.distinct, curve.options.levels),
        2);
  }
}

}  // namespace

void show_curve(Screen& screen, const LampCurve& curve) {
  screen.paragraph(
      fmt::format("{} x {} on {}, {}", curve.count, curve.lamp, curve.channel, spoken(mode_name(curve.nominal().mode))),
      0, Style::heading);
  if (curve.range.runs) {
    show_behaviour(screen, curve);
  } else {
    screen.paragraph("The lamps get no power at any setting that the channel allows.", 2, Style::bad);
  }
  show_sweep(screen, curve);
  if (curve.range.runs) show_levels(screen, curve);
  screen.line();
  screen.paragraph(
      "This is advice from a model. Try the finished channel at both limits, cold and warm. Local codes and licensed "
      "practice come first.",
      2, Style::warning);
}

std::string curve_csv(const LampCurve& curve) {
  std::string text;
  for (const std::string& line : remarks(curve)) text += "# " + printable(line) + "\n";
  text += fmt::format("level,target_share,{},share,reached,integer\n", setting_key(curve));
  for (const LevelRow& row : curve.table.rows) {
    text += fmt::format("{},{:.8g},{:.8g},{:.6g},{},{}\n", row.level, row.target, row.setting, row.share,
                        row.reached ? 1 : 0, row.count);
  }
  return text;
}

std::string curve_json(const LampCurve& curve) {
  Json curves = Json::array();
  for (const DimmingCurve& one : curve.curves) {
    curves.push_back({{"supply_v", one.supply_v},
                      {"count", one.lamps},
                      {"rising", points_json(one.rising)},
                      {"falling", points_json(one.falling)}});
  }
  Json table = nullptr;
  if (curve.range.runs) {
    Json rows = Json::array();
    for (const LevelRow& row : curve.table.rows) {
      rows.push_back({{"level", row.level},
                      {"target", row.target},
                      {"setting", row.setting},
                      {"share", row.share},
                      {"reached", row.reached},
                      {"integer", row.count}});
    }
    table = {{"target", law_name(curve.options.law)},
             {"of", of_what(curve)},
             {"levels", curve.options.levels},
             {"below", below_name(curve.options.below)},
             {"integer", curve.options.count_delay ? "delay" : "conduction"},
             {"full_integer", curve.options.full_count},
             {"least_share", curve.table.least_share},
             {"first_reached", curve.table.first_reached},
             {"distinct", curve.table.distinct},
             {"rows", std::move(rows)}};
  }
  const std::string& law = curve.nominal().light_law;
  const Json document = {{"lamp", curve.lamp},
                         {"channel", curve.channel},
                         {"mode", mode_name(curve.nominal().mode)},
                         {"count", curve.count},
                         {"setting", setting_key(curve)},
                         {"range", range_json(curve.range)},
                         {"light_law", law.empty() ? Json(nullptr) : Json(law)},
                         {"curves", std::move(curves)},
                         {"table", std::move(table)},
                         {"cautions", curve.cautions}};
  return document_text(document);
}

std::string curve_c(const LampCurve& curve) {
  const std::string name = identifier(curve.lamp);
  const std::string macro = upper_case(name);
  const std::int64_t full = curve.options.full_count;
  const char* type = full <= 255 ? "uint8_t" : full <= 65535 ? "uint16_t" : "uint32_t";
  std::int64_t least = full;
  std::int64_t most = 0;
  for (const LevelRow& row : curve.table.rows) {
    if (row.setting <= 0.0) continue;
    least = std::min(least, row.count);
    most = std::max(most, row.count);
  }
  std::string text = "/*\n";
  for (const std::string& line : remarks(curve)) text += " * " + in_comment(line) + "\n";
  text += fmt::format(" */\n#ifndef {0}_CURVE_H\n#define {0}_CURVE_H\n\n#include <stdint.h>\n\n", macro);
  const std::vector<std::pair<const char*, std::int64_t>> constants = {
      {"LEVELS", curve.options.levels},
      {"FULL", full},
      {"LEAST", least},
      {"MOST", most},
      {"FIRST_REACHED_LEVEL", curve.table.first_reached}};
  for (const auto& [what, value] : constants) text += fmt::format("#define {}_{} {}u\n", macro, what, value);
  text += fmt::format("\nstatic const {} {}_{}[{}] = {{", type, name,
                      curve.options.count_delay ? "delay" : "conduction", curve.table.rows.size());
  constexpr std::size_t in_a_line = 12;
  for (std::size_t i = 0; i < curve.table.rows.size(); ++i) {
    text += i % in_a_line == 0 ? "\n    " : " ";
    text += fmt::format("{}u{}", curve.table.rows[i].count, i + 1 < curve.table.rows.size() ? "," : "");
  }
  text += "\n};\n\n#endif\n";
  return text;
}

}  // namespace lampload
