#include <fmt/format.h>

#include <algorithm>

#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

std::string ratio(const std::optional<double>& value) { return value ? fmt::format("{:.3f}", *value) : "-"; }

std::string cut_in_words(const Cut& cut) {
  if (cut.edge == Edge::none) return "none";
  return fmt::format("{} edge, conducts {:.0f} deg of each half cycle{}",
                     cut.edge == Edge::leading ? "leading" : "trailing", cut.conduction_angle_deg,
                     cut.supply_side_voltage ? "; voltage taken on the supply side of the dimmer" : "");
}

std::string supply_in_words(const Figures& figures) {
  if (figures.mains_frequency_hz)
    return fmt::format("{} rms, {:.2f} Hz", quantity(figures.voltage_rms_v, "V"), *figures.mains_frequency_hz);
  if (!figures.direct) return quantity(figures.voltage_rms_v, "V") + " DC";
  const Direct& direct = *figures.direct;
  std::string text = quantity(direct.on_voltage_v, "V") + " DC";
  if (direct.voltage_ripple_percent)
    text += fmt::format(", ripple {:.1f} % peak to peak", *direct.voltage_ripple_percent);
  if (direct.pulses) {
    text += fmt::format(" in pulses, {}, duty {:.1f} %", quantity(direct.pulses->frequency_hz, "Hz"),
                        100.0 * direct.pulses->duty);
  }
  return text;
}

std::string current_in_words(const Figures& figures) {
  std::string text = fmt::format("{} rms, {} peak, crest factor {}", quantity(figures.current_rms_a, "A"),
                                 quantity(figures.current_peak_a, "A"), ratio(figures.current_crest_factor));
  if (!figures.direct) return text;
  const Direct& direct = *figures.direct;
  text += fmt::format(", mean {}", quantity(direct.current_mean_a, "A"));
  if (direct.pulses) text += fmt::format(", {} in the pulses", quantity(direct.on_current_a, "A"));
  if (direct.current_ripple_percent) text += fmt::format(", ripple {:.1f} %", *direct.current_ripple_percent);
  return text;
}

/// Length of the folder that all captures share, with its last slash.
std::size_t shared_folder(const std::vector<StoredCapture>& captures) {
  std::string shared = captures.empty() ? "" : captures.front().capture.file;
  for (const StoredCapture& stored : captures) {
    const std::string& file = stored.capture.file;
    const auto differ = std::mismatch(shared.begin(), shared.end(), file.begin(), file.end());
    shared.erase(differ.first, shared.end());
  }
  // The end of a name that is common to all is no folder.
  const std::size_t slash = shared.rfind('/');
  return slash == std::string::npos ? 0 : slash + 1;
}

void show_note(Screen& screen, const QualityNote& note, std::size_t indent) {
  const Style style = note.severity == Severity::error     ? Style::bad
                      : note.severity == Severity::warning ? Style::warning
                                                           : Style::plain;
  const char* word = note.severity == Severity::error     ? "error"
                     : note.severity == Severity::warning ? "warning"
                                                          : "note";
  screen.paragraph(fmt::format("{}, {}: {}", word, spoken(note.code), note.message), indent, style);
}

std::string kind_in_words(const Figures& f) {
  if (f.direct) return f.direct->pulses ? "Pulses on DC" : f.turn_on ? "Turn-on on DC" : "Steady DC";
  const std::string cut = f.cut.edge == Edge::none      ? "uncut"
                          : f.cut.edge == Edge::leading ? "leading edge"
                                                        : "trailing edge";
  return (f.turn_on ? "Turn-on, " : "Running, ") + cut;
}

}  // namespace

void show_answer(Screen& screen, const StoredCapture& stored) {
  const Figures& f = stored.figures;
  std::string seen = fmt::format("{}, {}", kind_in_words(f), quantity(f.active_power_w, "W", 3));
  if (f.inrush) seen += ", inrush " + quantity(f.inrush->peak_a, "A", 3);
  std::string codes[2];
  int counts[2] = {0, 0};
  for (const QualityNote& note : f.quality) {
    if (note.severity == Severity::note) continue;
    const std::size_t which = note.severity == Severity::error ? 0 : 1;
    codes[which] += (counts[which]++ == 0 ? "" : ", ") + spoken(note.code);
  }
  if (counts[0] > 0) {
    screen.paragraph(
        fmt::format("{}. Not to be relied on: {}{}{}.", seen, codes[0], counts[1] > 0 ? "; in doubt: " : "", codes[1]),
        2, Style::bad);
  } else if (counts[1] > 0) {
    screen.paragraph(fmt::format("{}. To be used with care: {}.", seen, codes[1]), 2, Style::warning);
  } else {
    screen.paragraph(seen + ". Good: nothing stands against it.", 2, Style::good);
  }
}

void show_figures(Screen& screen, const StoredCapture& stored) {
  const Figures& f = stored.figures;
  Table table({"", ""});
  table.add({"samples",
             fmt::format("{} at {}, {}", f.samples, quantity(f.sample_rate_hz, "S/s"), quantity(f.duration_s, "s"))});
  table.add({"supply", supply_in_words(f)});
  table.add({"current", current_in_words(f)});
  table.add({"power", fmt::format("{} active, {} apparent", quantity(f.active_power_w, "W"),
                                  quantity(f.apparent_power_va, "VA"))});
  if (f.mains_frequency_hz)
    table.add({"power factor",
               fmt::format("{}, displacement factor {}", ratio(f.power_factor), ratio(f.displacement_factor))});
  if (f.current_thd_percent) {
    table.add({"harmonics", fmt::format("{:.1f} % total distortion of the current", *f.current_thd_percent)});
  }
  if (f.mains_frequency_hz) table.add({"cut", cut_in_words(f.cut)});
  if (f.inrush) {
    table.add({"inrush",
               fmt::format("{} peak, {} wide at half of it, I2t {} in the first {}", quantity(f.inrush->peak_a, "A"),
                           quantity(f.inrush->width_s, "s", 3), quantity(f.inrush->i2t_a2s, "A2s", 3),
                           f.direct ? std::string("10 ms")
                                    : fmt::format("half cycle, switched on at {:.0f} deg", f.inrush->phase_deg))});
  }
  screen.table(table, 2);
  for (const QualityNote& note : f.quality) show_note(screen, note, 2);
}

void show_figures_in_short(Screen& screen, const std::vector<StoredCapture>& captures) {
  const std::size_t folder = shared_folder(captures);
  Table table({"capture", "supply", "power", "rms", "peak", "power factor", "cut", "inrush"});
  for (const StoredCapture& stored : captures) {
    const Figures& f = stored.figures;
    std::string cut = "-";
    if (f.cut.edge != Edge::none) {
      cut = fmt::format("{} {:.0f} deg", f.cut.edge == Edge::leading ? "leading" : "trailing",
                        f.cut.conduction_angle_deg);
    } else if (f.direct && f.direct->pulses) {
      cut = fmt::format("duty {:.1f} %", 100.0 * f.direct->pulses->duty);
    }
    const std::string supply =
        f.direct ? quantity(f.direct->on_voltage_v, "V", 3) + " DC" : quantity(f.voltage_rms_v, "V", 3);
    table.add({stored.capture.file.substr(folder), supply, quantity(f.active_power_w, "W", 3),
               quantity(f.current_rms_a, "A", 3), quantity(f.current_peak_a, "A", 3), ratio(f.power_factor), cut,
               f.inrush ? quantity(f.inrush->peak_a, "A", 3) : "-"});
  }
  screen.table(table, 2);
  for (const StoredCapture& stored : captures) {
    for (const QualityNote& note : stored.figures.quality) {
      if (note.severity == Severity::note) continue;
      show_note(screen, {note.code, note.severity, stored.capture.file.substr(folder) + ": " + note.message}, 2);
    }
  }
}

}  // namespace lampload
