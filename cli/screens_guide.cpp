#include <fmt/format.h>

#include "cli/options.h"
#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

const char* capture_in_words(const std::string& kind) {
  return kind == "steady"          ? "steady"
         : kind == "turn_on"       ? "turn-on"
         : kind == "leading_edge"  ? "leading edge"
         : kind == "trailing_edge" ? "trailing edge"
                                   : "pulses";
}

void show_list(Screen& screen, const char* heading, const std::vector<std::string>& items) {
  if (items.empty()) return;
  screen.line();
  screen.line(heading, Style::heading);
  Table list({"", ""});
  for (const std::string& item : items) list.add({"-", item});
  screen.table(list, 2);
}

}  // namespace

void show_guide(Screen& screen, const CaptureGuide& guide) {
  screen.line("Measuring: " + guide.lamp, Style::heading);
  screen.paragraph(measuring_cautions(), 2, Style::warning);
  for (const std::string& caution : guide.cautions) screen.paragraph(caution, 2, Style::warning);
  screen.line();
  screen.line("Captures, in this order", Style::heading);
  std::size_t number = 0;
  for (const GuidedCapture& capture : guide.captures) {
    screen.paragraph(fmt::format("{}. {}: {}.", ++number, capture_in_words(capture.kind), capture.how), 2);
    Table table({"", ""});
    table.add({"current range", capture.range});
    table.add({"sampling", fmt::format("{} or more, {} or longer", quantity(capture.sample_rate_hz, "S/s", 3),
                                       quantity(capture.duration_s, "s", 3))});
    table.add({"trigger", capture.trigger});
    screen.table(table, 5);
  }
  show_list(screen, "Probes", guide.probes);
  show_list(screen, "Delay between the channels", guide.deskew);
  screen.line();
  screen.paragraph(guide.afterwards);
  screen.paragraph(
      "Look at each capture with `lampload inspect FILE` before you take the next: what it says of range, rate "
      "and skew is what this guide asks for.");
}

}  // namespace lampload
