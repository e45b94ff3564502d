#include "cli/report/circuit.h"

#include <fmt/format.h>

#include <algorithm>

#include "cli/quantity.h"
#include "core/lamp/lamp.h"

namespace lampload {
namespace {

const FamilyInfo* family_of(const StoredFit& fit) {
  for (const FamilyInfo& family : lamp_families()) {
    if (family.name == fit.family && family.load_law == fit.load_law) return &family;
  }
  return nullptr;
}

const StoredEstimate* find(const StoredFit& fit, std::string_view name) {
  const auto found =
      std::find_if(fit.parameters.begin(), fit.parameters.end(), [&](const auto& one) { return one.name == name; });
  return found == fit.parameters.end() ? nullptr : &*found;
}

/// Parts of the family's list that belong to one column, from `first` on.
std::size_t end_of_column(std::span<const SchematicPart> parts, std::size_t first) {
  std::size_t end = first + 1;
  while (end < parts.size() && parts[end].placement == Placement::with_previous) ++end;
  return end;
}

std::string_view word_of(Symbol symbol) {
  switch (symbol) {
    case Symbol::resistor:
      return "resistor";
    case Symbol::thermistor:
      return "thermistor";
    case Symbol::capacitor:
      return "capacitor";
    case Symbol::inductor:
      return "inductor";
    case Symbol::filament:
      return "filament";
    case Symbol::bridge:
      return "bridge rectifier";
    case Symbol::led_string:
      return "string of LEDs";
    case Symbol::diode:
      return "chain of diodes";
    case Symbol::current_source:
      return "current source";
    case Symbol::converter:
      return "converter";
    case Symbol::wire:
      break;
  }
  return "short circuit";
}

// Drawn from left to right about the middle, 60 wide.
std::string shape_of(Symbol symbol) {
  const std::string ends = R"(<path class="wire" d="M-30 0H-{0}M{0} 0H30"/>)";
  const auto between = [&](int half, const std::string& shape) {
    return fmt::format(fmt::runtime(ends), half) + shape;
  };
  switch (symbol) {
    case Symbol::resistor:
      return between(22, R"(<path class="part" d="M-22 -8H22V8H-22Z"/>)");
    case Symbol::thermistor:
      return between(22, R"(<path class="part" d="M-22 -8H22V8H-22Z"/><path class="wire" d="M-24 16H-14L14 -16"/>)");
    case Symbol::capacitor:
      return between(4, R"(<path class="wire" d="M-4 -14V14M4 -14V14"/>)");
    case Symbol::inductor:
      return between(24,
                     R"(<path class="wire" d="M-24 0a6 6 0 0 1 12 0a6 6 0 0 1 12 0a6 6 0 0 1 12 0a6 6 0 0 1 12 0"/>)");
    case Symbol::filament:
      return between(
          15, R"(<circle class="part" r="15"/><path class="wire" d="M-10.6 -10.6L10.6 10.6M-10.6 10.6L10.6 -10.6"/>)");
    case Symbol::led_string:
      return between(
          10,
          R"(<path class="part" d="M-10 -11L10 0L-10 11Z"/><path class="wire" d="M10 -11V11M0 -14l7 -9m-5 1l5 -1l-1 5M8 -12l7 -9m-5 1l5 -1l-1 5"/>)");
    case Symbol::diode:
      return between(10, R"(<path class="part" d="M-10 -11L10 0L-10 11Z"/><path class="wire" d="M10 -11V11"/>)");
    case Symbol::current_source:
      return between(15, R"(<circle class="part" r="15"/><path class="wire" d="M-9 0H8m-6 -5l6 5l-6 5"/>)");
    case Symbol::converter:
      return between(18, R"(<path class="part" d="M-18 -18H18V18H-18Z"/><path class="wire" d="M-18 18L18 -18"/>)");
    case Symbol::bridge:
    case Symbol::wire:
      break;
  }
  return R"(<path class="wire" d="M-30 0H30"/>)";
}

constexpr int series_width = 150;
constexpr int across_width = 205;
constexpr int bridge_width = 180;
constexpr int part_length = 60;
constexpr int stacked = 92;  // from one part of a stack to the next
constexpr int upper = 62;

/// The drawing while it grows to the right. Both rails reach to rails_, the next column begins at x_.
class Sheet {
 public:
  Sheet(int lower, const Html& page) : lower_(lower), page_(&page) {
    for (const int y : {upper, lower_}) svg_ += fmt::format(R"(<circle class="part" cx="12" cy="{}" r="4"/>)", y);
  }

  void series(std::span<const DrawnPart> branches) {
    const int left = x_ + 16;
    const int right = x_ + series_width - 16;
    const int middle = (left + right) / 2;
    for (std::size_t k = 0; k < branches.size(); ++k) {
      const int y = upper + static_cast<int>(k) * 58;
      line(left, y, middle - part_length / 2, y);
      line(middle + part_length / 2, y, right, y);
      part(branches[k].symbol, middle, y, false);
      label(branches[k].labels, middle, k == 0 ? y - 38 : y + 30, "middle");
      if (k == 0) continue;
      line(left, upper, left, y);
      line(right, upper, right, y);
    }
    x_ += series_width;
    line(rails_, upper, left, upper);
    line(right, upper, x_, upper);
    line(rails_, lower_, x_, lower_);
    rails_ = x_;
  }

  void across(std::span<const DrawnPart> stack) {
    const int at = x_ + 18;
    for (const int y : {upper, lower_}) line(rails_, y, at, y);
    const int room = (lower_ - upper) / static_cast<int>(stack.size());
    int y = upper;
    for (const DrawnPart& one : stack) {
      const int middle = y + room / 2;
      line(at, y, at, middle - part_length / 2);
      line(at, middle + part_length / 2, at, y + room);
      part(one.symbol, at, middle, true);
      const int lines = static_cast<int>(one.labels.size());
      label(one.labels, at + 36, middle + 4 - (lines - 1) * line_height / 2, "start");
      y += room;
    }
    line(at, y, at, lower_);
    rails_ = at;
    x_ += std::max(across_width, 60 + letter_width * static_cast<int>(longest(stack)));
  }

  void bridge(const DrawnPart& one) {
    const int left = x_ + 10;
    const int right = x_ + bridge_width - 10;
    const int middle = (left + right) / 2;
    for (const int y : {upper, lower_}) line(rails_, y, left, y);
    svg_ += fmt::format(R"(<path class="part" d="M{0} {2}H{1}V{3}H{0}Z"/>)", left, right, upper - 14, lower_ + 14);
    part(Symbol::diode, middle, (upper + lower_) / 2 - 14, false);
    for (const int y : {upper, lower_}) label({"~"}, left + 8, y + 4, "start");
    label({"+"}, right - 8, upper + 4, "end");
    label({"-"}, right - 8, lower_ + 4, "end");
    label(one.labels, middle, (upper + lower_) / 2 + 18, "middle");
    x_ += bridge_width;
    for (const int y : {upper, lower_}) line(right, y, x_, y);
    rails_ = x_;
  }

  [[nodiscard]] std::string finished(std::string_view words) const {
    const int height = lower_ + 34;
    return fmt::format(
        "<svg role=\"img\" aria-label=\"{}\" viewBox=\"0 0 {} {}\" width=\"{}\" height=\"{}\">{}</svg>\n",
        Html::attribute(words).html, x_, height, x_, height, svg_);
  }

 private:
  static constexpr int line_height = 15;
  static constexpr int letter_width = 7;

  static std::size_t longest(std::span<const DrawnPart> parts) {
    std::size_t most = 0;
    for (const DrawnPart& one : parts) {
      for (const std::string& text : one.labels) most = std::max(most, text.size());
    }
    return most;
  }
  void line(int x1, int y1, int x2, int y2) {
    if (x1 != x2 || y1 != y2) svg_ += fmt::format(R"(<path class="wire" d="M{} {}L{} {}"/>)", x1, y1, x2, y2);
  }
  void part(Symbol symbol, int x, int y, bool upright) {
    svg_ += fmt::format(R"(<g transform="translate({} {}){}">{}</g>)", x, y, upright ? " rotate(90)" : "",
                        shape_of(symbol));
  }
  void label(const std::vector<std::string>& lines, int x, int y, std::string_view anchor) {
    for (const std::string& one : lines) {
      svg_ += fmt::format(R"(<text x="{}" y="{}" text-anchor="{}">{}</text>)", x, y, anchor, page_->text(one).html);
      y += line_height;
    }
  }

  int lower_;
  const Html* page_;
  int rails_ = 16;
  int x_ = 30;
  std::string svg_;
};

std::vector<std::vector<DrawnPart>> columns_of(const std::vector<DrawnPart>& parts) {
  std::vector<std::vector<DrawnPart>> columns;
  for (const DrawnPart& part : parts) {
    if (columns.empty() || part.placement != Placement::with_previous) columns.emplace_back();
    columns.back().push_back(part);
  }
  return columns;
}

}  // namespace

std::vector<DrawnPart> drawn_parts(const StoredFit& fit) {
  std::vector<DrawnPart> drawn;
  const FamilyInfo* family = family_of(fit);
  if (family == nullptr) return drawn;
  for (std::size_t first = 0; first < family->schematic.size();) {
    const std::size_t end = end_of_column(family->schematic, first);
    bool leads = true;
    for (std::size_t k = first; k < end; ++k) {
      const SchematicPart& part = family->schematic[k];
      DrawnPart one{part.symbol, leads ? family->schematic[first].placement : Placement::with_previous, {}};
      bool there = part.parameters.front().empty();
      for (const std::string_view name : part.parameters) {
        const StoredEstimate* estimate = name.empty() ? nullptr : find(fit, name);
        if (estimate == nullptr) continue;
        const ParameterSpec& spec = family->parameters[index_of(family->parameters, name)];
        if (spec.optional && estimate->value == spec.absent) continue;
        there = true;
        const std::string value = quantity(estimate->value, estimate->unit, 3);
        const std::string doubt = estimate->identified ? "" : " (not identified)";
        if (one.labels.empty()) {
          one.labels = {spoken(name), value + doubt};
        } else {
          one.labels.push_back(fmt::format("{} {}{}", spoken(name), value, doubt));
        }
      }
      if (!there) continue;
      drawn.push_back(std::move(one));
      leads = false;
    }
    first = end;
  }
  return drawn;
}

std::string circuit_in_words(const std::vector<DrawnPart>& parts) {
  std::string text;
  for (const DrawnPart& part : parts) {
    const char* place = part.placement == Placement::across      ? "across both wires"
                        : part.placement == Placement::in_series ? "in series"
                                                                 : "joined to it";
    text += fmt::format("{}{} a {}", text.empty() ? "From the terminals inwards: " : "; ", place, word_of(part.symbol));
    for (std::size_t k = 0; k < part.labels.size(); ++k) {
      text += fmt::format("{}{}", k == 0 ? ", " : k == 1 ? " " : ", ", part.labels[k]);
    }
  }
  return text.empty() ? text : text + ".";
}

Markup circuit_drawing(const std::vector<DrawnPart>& parts, const Html& page) {
  const auto columns = columns_of(parts);
  std::size_t tallest = 1;
  for (const auto& column : columns) {
    if (column.front().placement == Placement::across) tallest = std::max(tallest, column.size());
  }
  Sheet sheet(upper + 38 + stacked * static_cast<int>(tallest), page);
  for (const auto& column : columns) {
    if (column.front().symbol == Symbol::bridge) {
      sheet.bridge(column.front());
    } else if (column.front().placement == Placement::in_series) {
      sheet.series(column);
    } else {
      sheet.across(column);
    }
  }
  return {sheet.finished(circuit_in_words(parts))};
}

}  // namespace lampload
