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
  return figures.mains_frequency_hz
             ? fmt::format("{} rms, {:.2f} Hz", quantity(figures.voltage_rms_v, "V"), *figures.mains_frequency_hz)
             : quantity(figures.voltage_rms_v, "V") + " DC";
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

}  // namespace

void show_figures(Screen& screen, const StoredCapture& stored) {
  const Figures& f = stored.figures;
  screen.line(stored.capture.file, Style::heading);
  Table table({"", ""});
  table.add({"samples",
             fmt::format("{} at {}, {}", f.samples, quantity(f.sample_rate_hz, "S/s"), quantity(f.duration_s, "s"))});
  table.add({"supply", supply_in_words(f)});
  table.add({"current", fmt::format("{} rms, {} peak, crest factor {}", quantity(f.current_rms_a, "A"),
                                    quantity(f.current_peak_a, "A"), ratio(f.current_crest_factor))});
  table.add({"power", fmt::format("{} active, {} apparent", quantity(f.active_power_w, "W"),
                                  quantity(f.apparent_power_va, "VA"))});
  table.add(
      {"power factor", fmt::format("{}, displacement factor {}", ratio(f.power_factor), ratio(f.displacement_factor))});
  if (f.current_thd_percent) {
    table.add({"harmonics", fmt::format("{:.1f} % total distortion of the current", *f.current_thd_percent)});
  }
  if (f.mains_frequency_hz) table.add({"cut", cut_in_words(f.cut)});
  if (f.inrush) {
    table.add({"inrush",
               fmt::format("{} peak, {} wide at half of it, I2t {} in the first half cycle, switched on at {:.0f} deg",
                           quantity(f.inrush->peak_a, "A"), quantity(f.inrush->width_s, "s", 3),
                           quantity(f.inrush->i2t_a2s, "A2s", 3), f.inrush->phase_deg)});
  }
  screen.table(table, 2);
  for (const QualityNote& note : f.quality) show_note(screen, note, 2);
}

void show_figures_in_short(Screen& screen, const std::vector<StoredCapture>& captures) {
  const std::size_t folder = shared_folder(captures);
  Table table({"capture", "supply", "power", "rms", "peak", "power factor", "cut", "inrush"});
  for (const StoredCapture& stored : captures) {
    const Figures& f = stored.figures;
    const std::string cut = f.cut.edge == Edge::none
                                ? "-"
                                : fmt::format("{} {:.0f} deg", f.cut.edge == Edge::leading ? "leading" : "trailing",
                                              f.cut.conduction_angle_deg);
    table.add({stored.capture.file.substr(folder), quantity(f.voltage_rms_v, "V", 3),
               quantity(f.active_power_w, "W", 3), quantity(f.current_rms_a, "A", 3),
               quantity(f.current_peak_a, "A", 3), ratio(f.power_factor), cut,
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
