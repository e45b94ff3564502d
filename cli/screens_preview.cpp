#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>

#include "cli/picture.h"
#include "cli/quantity.h"
#include "cli/screens.h"

namespace lampload {
namespace {

constexpr std::size_t picture_columns = 55;  // with its labels less than 80
constexpr std::size_t picture_lines = 6;
constexpr std::size_t indent = 2;

/// What is worth a picture: the beginning of a turn-on, or some steady cycles.
std::pair<std::size_t, std::size_t> stretch_of(const StoredCapture& stored) {
  const Figures& figures = stored.figures;
  const std::size_t samples = stored.capture.samples();
  if (!figures.mains_frequency_hz) return {0, samples};
  const double cycle = stored.capture.sample_rate_hz() / *figures.mains_frequency_hz;
  const auto cycles = [&](double count) { return static_cast<std::size_t>(count * cycle); };
  if (figures.turn_on) {
    const std::size_t from = figures.turn_on->sample - std::min(figures.turn_on->sample, cycles(0.5));
    return {from, std::min(samples, from + cycles(4.0))};
  }
  return {figures.steady_first, std::min({samples, figures.steady_last + 1, figures.steady_first + cycles(3.0)})};
}

void show_picture(Screen& screen, const char* what, std::span<const double> values, const char* unit) {
  const auto [least, largest] = std::minmax_element(values.begin(), values.end());
  // Zero is always in it, and a flat line in the middle.
  double low = std::min(0.0, *least);
  double high = std::max(0.0, *largest);
  if (!(high > low)) {
    low -= 1.0;
    high += 1.0;
  }
  const auto lines = drawn(values, low, high, picture_columns, picture_lines, dots_of_terminal(stdout));
  const auto zero = static_cast<std::size_t>(std::lround(high / (high - low) * static_cast<double>(picture_lines - 1)));
  Table table({"", ""});
  for (std::size_t k = 0; k < lines.size(); ++k) {
    const std::string label = k == 0                   ? quantity(high, unit, 3)
                              : k == picture_lines - 1 ? quantity(low, unit, 3)
                              : k == zero              ? "0"
                                                       : "";
    screen.line(fmt::format("{:{}}{:<10}{:>10} |{}", "", indent, k == 0 ? what : "", label, lines[k]));
  }
}

std::string segment_in_words(const Segment& one) {
  switch (one.kind) {
    case Segment::Kind::off:
      return "no current";
    case Segment::Kind::turn_on:
      return fmt::format("switched on, first cycle {} rms", quantity(one.current_rms_a, "A", 3));
    case Segment::Kind::changing:
      return "changing";
    case Segment::Kind::turn_off:
      return "switched off";
    case Segment::Kind::running:
      break;
  }
  const std::string current = quantity(one.current_rms_a, "A", 3) + " rms";
  if (one.cut.edge == Edge::none) return "running uncut, " + current;
  return fmt::format("running, {} edge at {:.0f} deg, {}", one.cut.edge == Edge::leading ? "leading" : "trailing",
                     one.cut.conduction_angle_deg, current);
}

void show_harmonics(Screen& screen, const CapturePreview& preview) {
  const HarmonicGroups& groups = *preview.current_groups_a;
  if (!(groups.rms[1] > 0.0)) return;
  // The odd ones are a lamp's; even ones stand for uneven half cycles.
  std::string list;
  std::size_t largest_even = 2;
  for (std::size_t order = 2; order < groups.rms.size(); ++order) {
    if (order % 2 == 0) {
      if (groups.rms[order] > groups.rms[largest_even]) largest_even = order;
      continue;
    }
    const double percent = 100.0 * groups.rms[order] / groups.rms[1];
    if (percent >= 1.0) list += fmt::format("{}{}: {:.1f}", list.empty() ? "" : ", ", order, percent);
  }
  screen.paragraph(
      fmt::format("harmonics of the current to 40, in % of the first ({}; groups of IEC 61000-4-7 over {} of "
                  "{}): {}; odd ones not named are below 1, even ones at most {:.1f} (order {})",
                  quantity(groups.rms[1], "A", 3), counted(static_cast<int>(groups.windows), "window"),
                  counted(static_cast<int>(groups.cycles), "cycle"), list.empty() ? "none above 1" : list,
                  100.0 * groups.rms[largest_even] / groups.rms[1], largest_even),
      indent);
  if (!preview.class_c) {
    screen.paragraph("class C (IEC 61000-3-2): not judged, " + preview.no_class_c, indent);
    return;
  }
  const HarmonicUse& use = *preview.class_c;
  if (use.rule.empty()) {
    screen.paragraph("class C (IEC 61000-3-2): no limit for this power", indent);
    return;
  }
  screen.paragraph(
      fmt::format("class C (IEC 61000-3-2): {}, {:.0f} % of the limit{} ({}; {})",
                  use.share <= 1.0 ? "kept" : "exceeded", 100.0 * use.share,
                  use.order > 0 ? fmt::format(" at order {}", use.order) : std::string(), use.rule, use.known),
      indent, use.share <= 1.0 ? Style::plain : Style::warning);
}

}  // namespace

void show_preview(Screen& screen, const StoredCapture& stored, const CapturePreview& preview) {
  screen.line();
  const auto [from, to] = stretch_of(stored);
  const Capture& capture = stored.capture;
  const auto part = [&, from = from, to = to](const std::vector<double>& values) {
    return std::span(values).subspan(from, to - from);
  };
  show_picture(screen, "voltage", part(capture.voltage_v), "V");
  show_picture(screen, "current", part(capture.current_a), "A");
  const auto time = [&](std::size_t sample) {
    return quantity(capture.start_time_s + static_cast<double>(sample) * capture.sample_interval_s, "s", 4);
  };
  const std::string left = time(from);
  const std::string right = time(to);
  const std::size_t gap =
      picture_columns > left.size() + right.size() ? picture_columns - left.size() - right.size() : 1;
  screen.line(fmt::format("{:{}}{}{:{}}{}", "", indent + 22, left, "", gap, right));

  screen.line();
  if (preview.current_groups_a) show_harmonics(screen, preview);
  if (preview.segments.size() > 1) {
    screen.line();
    Table parts({"from", "to", "part"});
    for (const Segment& one : preview.segments) parts.add({time(one.first), time(one.last), segment_in_words(one)});
    screen.table(parts, indent);
  }
  screen.line();
  if (!preview.form.name.empty()) {
    screen.paragraph(fmt::format("read as a {} (certainty {:.0f} %): {}", preview.form.name,
                                 100.0 * preview.form.certainty, preview.form.reason),
                     indent);
    std::string columns;
    for (const SourceColumn& column : preview.form.columns) {
      columns += fmt::format("{}{} from \"{}\"{}", columns.empty() ? "" : ", ", column.quantity, column.name,
                             column.factor == 1.0 ? std::string() : fmt::format(" times {:g}", column.factor));
    }
    if (!columns.empty()) screen.paragraph(columns, indent);
    screen.paragraph("the first samples, as they are used:", indent);
  }
  Table rows({"time", "voltage", "current"});
  for (const auto& row : preview.first_rows)
    rows.add({quantity(row[0], "s", 6), quantity(row[1], "V", 4), quantity(row[2], "A", 4)});
  screen.table(rows, indent);
}

}  // namespace lampload
