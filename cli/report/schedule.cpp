#include "cli/report/schedule.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "cli/measuring.h"
#include "cli/options.h"
#include "cli/plan_output.h"
#include "cli/quantity.h"
#include "cli/report/html.h"
#include "cli/screens.h"
#include "core/error.h"

namespace lampload {
namespace {

/// "49 to 175 deg"; for a leading edge also when to fire.
std::string setting_in_words(const std::optional<DimmingRange>& range, const PlannedChannel& planned, Mode mode) {
  if (!has_setting(mode)) return "on and off";
  if (!range) return "not known: no circuit";
  if (!range->runs) return "none: the lamps do not run";
  if (setting_of(mode) == Setting::duty) {
    return fmt::format("duty {:.1f} to {:.1f} %", 100.0 * range->min_setting, 100.0 * range->max_setting);
  }
  std::string text = fmt::format("conduction {:.0f} to {:.0f} deg", range->min_setting, range->max_setting);
  const double half_cycle_s = 0.5 / planned.channel.supply.frequency_hz;
  const auto after = [&](double deg) { return quantity(half_cycle_s * deg / 180.0, "s", 3); };
  if (mode == Mode::leading_edge) {
    text += fmt::format(" (fires {} to {} after the zero crossing)", after(180.0 - range->max_setting),
                        after(180.0 - range->min_setting));
  } else {
    text +=
        fmt::format(" (cuts {} to {} after the zero crossing)", after(range->min_setting), after(range->max_setting));
  }
  return text + (range->steady ? "" : "; flickers at full");
}

std::string turn_on_in_words(const PlannedChannel& planned, Mode mode) {
  const Output& output = planned.channel.output;
  std::string text = output.zero_cross_turn_on.value_or(false) ? "at the zero crossing" : "at any phase";
  if (has_setting(mode) && output.soft_start_s && *output.soft_start_s > 0.0) {
    text += ", soft start " + quantity(*output.soft_start_s, "s", 3);
  }
  return text;
}

/// Its place among the channels of its breaker that start together, and how long after the first.
std::string start_in_words(const PlanVerdict& verdict, const PlannedChannel& planned, const Installation& plan) {
  if (!planned.breaker) return "-";
  const PlannedBreaker& behind = plan.breakers[*planned.breaker];
  for (const BreakerVerdict& breaker : verdict.breakers) {
    if (breaker.board != behind.board || breaker.name != behind.name) continue;
    for (const StartVerdict& start : breaker.starts) {
      const auto place = std::find(start.channels.begin(), start.channels.end(), planned.channel.name);
      if (place == start.channels.end()) continue;
      const auto before = static_cast<double>(place - start.channels.begin());
      return start.channels.size() < 2 || start.stagger_s <= 0.0 ? "at once"
             : place == start.channels.begin()
                 ? "first"
                 : fmt::format("{} after the first", quantity(before * start.stagger_s, "s", 3));
    }
  }
  return "-";
}

struct BoardSheet {
  std::string board;
  std::vector<std::size_t> channels;  ///< indices
};

std::vector<BoardSheet> sheets_of(const Installation& plan) {
  std::vector<BoardSheet> sheets;
  for (const PlannedBreaker& breaker : plan.breakers) {
    if (sheets.empty() || sheets.back().board != breaker.board) sheets.push_back({breaker.board, {}});
  }
  BoardSheet without{"", {}};
  for (std::size_t i = 0; i < plan.channels.size(); ++i) {
    const auto& behind = plan.channels[i].breaker;
    if (!behind) {
      without.channels.push_back(i);
      continue;
    }
    for (BoardSheet& sheet : sheets) {
      if (sheet.board == plan.breakers[*behind].board) sheet.channels.push_back(i);
    }
  }
  for (BoardSheet& sheet : sheets) {
    std::stable_sort(sheet.channels.begin(), sheet.channels.end(), [&](std::size_t a, std::size_t b) {
      return *plan.channels[a].breaker < *plan.channels[b].breaker;
    });
  }
  if (!without.channels.empty()) sheets.push_back(std::move(without));
  return sheets;
}

void write_breakers(Html& html, const BoardSheet& sheet, const PlanVerdict& verdict) {
  std::vector<std::vector<std::string>> rows;
  for (const BreakerVerdict& one : verdict.breakers) {
    if (one.board != sheet.board) continue;
    rows.push_back({one.name, fmt::format("{} {:g} A", one.breaker.curve, one.breaker.rating_a),
                    fmt::format("{} of {}", quantity(one.load.value, "A", 3), quantity(one.load.limit, "A", 3)),
                    starts_in_words(one), stagger_in_words(one), one.holds ? "yes" : "NO"});
  }
  if (!rows.empty()) {
    html.table("Breakers", {"breaker", "rating", "load", "start", "stagger between starts", "holds"}, rows);
  }
}

void write_channels(Html& html, const BoardSheet& sheet, const Installation& plan, const PlanVerdict& verdict,
                    const std::vector<std::optional<DimmingRange>>& ranges) {
  std::vector<std::vector<std::string>> rows;
  for (const std::size_t i : sheet.channels) {
    const PlannedChannel& planned = plan.channels[i];
    const ChannelVerdict& judged = verdict.channels[i];
    rows.push_back({planned.channel.name, planned.breaker ? plan.breakers[*planned.breaker].name : "-", planned.room,
                    loads_in_words(planned.lamps), mode_in_words(judged.check.mode),
                    setting_in_words(ranges[i], planned, judged.check.mode),
                    turn_on_in_words(planned, judged.check.mode), start_in_words(verdict, planned, plan),
                    fullest_in_words(judged.check), judged.check.holds ? "yes" : "NO", ""});
  }
  html.table("Channels and their settings",
             {"channel", "breaker", "room", "lamps", "mode", "settings for the firmware", "turns on", "starts",
              "fullest limit", "holds", "tried, by whom"},
             rows, "schedule");
}

void write_faults(Html& html, const BoardSheet& sheet, const PlanVerdict& verdict) {
  HtmlScreen screen(html, 3);
  bool any = false;
  const auto begin = [&] {
    if (!any) html.heading(2, html.text("What does not hold"));
    any = true;
  };
  for (const std::size_t i : sheet.channels) {
    if (verdict.channels[i].check.holds) continue;
    begin();
    show_channel_fault(screen, verdict.channels[i]);
  }
  for (const BreakerVerdict& one : verdict.breakers) {
    if (one.board != sheet.board || one.holds) continue;
    begin();
    show_breaker_fault(screen, one);
  }
}

/// Sentences of channels, each once, with whose it is unless it is all of them.
class Sentences {
 public:
  void add(const std::vector<std::string>& sentences, const std::string& channel) {
    for (const std::string& one : sentences) {
      auto known = std::find_if(all_.begin(), all_.end(), [&](const auto& entry) { return entry.first == one; });
      if (known == all_.end()) known = all_.insert(all_.end(), {one, {}});
      if (!channel.empty()) known->second.push_back(channel);
    }
  }
  [[nodiscard]] std::vector<Markup> items(const Html& html, std::size_t channels) const {
    std::vector<Markup> items;
    for (const auto& [sentence, of] : all_) {
      const bool some = !of.empty() && of.size() < channels;
      std::string names;
      for (const std::string& name : of) names += (names.empty() ? "" : ", ") + name;
      items.push_back(html.text(spoken_sentence(sentence) + (some ? " (" + names + ")" : "")));
    }
    return items;
  }

 private:
  std::vector<std::pair<std::string, std::vector<std::string>>> all_;
};

void write_notes(Html& html, const BoardSheet& sheet, const PlanVerdict& verdict) {
  Sentences not_checked;
  Sentences cautions;
  for (const std::size_t i : sheet.channels) {
    const ChannelVerdict& one = verdict.channels[i];
    not_checked.add(one.check.not_checked, one.channel);
    cautions.add(one.check.cautions, one.channel);
  }
  for (const BreakerVerdict& one : verdict.breakers) {
    if (one.board == sheet.board) not_checked.add(one.not_checked, "");
  }
  html.heading(2, html.text("Cautions"));
  std::vector<Markup> items = cautions.items(html, sheet.channels.size());
  items.push_back(
      html.text("Isolate this board, prove it dead and discharge what stores a charge before touching "
                "anything. Work on it is for people whom local rules allow."));
  items.push_back(html.text("This is advice from a model. Local codes and licensed practice come first."));
  html.list(items);
  const std::vector<Markup> open = not_checked.items(html, sheet.channels.size());
  if (!open.empty()) {
    html.heading(2, html.text("Not checked"));
    html.list(open);
  }
}

bool holds(const BoardSheet& sheet, const PlanVerdict& verdict) {
  return std::all_of(sheet.channels.begin(), sheet.channels.end(),
                     [&](std::size_t i) { return verdict.channels[i].check.holds; }) &&
         std::all_of(verdict.breakers.begin(), verdict.breakers.end(),
                     [&](const BreakerVerdict& one) { return one.board != sheet.board || one.holds; });
}

}  // namespace

std::optional<DimmingRange> firmware_range(const PlannedChannel& channel, Mode mode) {
  if (!has_setting(mode)) return std::nullopt;
  std::vector<LampGroup> groups;
  for (const LoadItem& item : channel.lamps) {
    if (!item.evidence.lamp) return std::nullopt;
    groups.push_back({*item.evidence.lamp, item.count});
  }
  const bool dc = setting_of(mode) == Setting::duty;
  const double tolerance = channel.channel.supply.tolerance_percent / 100.0;
  std::vector<DimmingCurve> curves;
  try {
    curves.push_back(dimming_curve(channel.channel, mode, groups));
    if (!dc && tolerance > 0.0) {
      for (const double share : {1.0 - tolerance, 1.0 + tolerance}) {
        DimmingOptions options;
        options.supply_v = channel.channel.supply.voltage_v * share;
        curves.push_back(dimming_curve(channel.channel, mode, groups, options));
      }
    }
  } catch (const Error& error) {
    if (error.code() == ErrorCode::usage) throw;
    return std::nullopt;
  }
  return range_for_all(curves);
}

std::string schedule_html(const Installation& plan, const PlanVerdict& verdict,
                          const std::vector<std::optional<DimmingRange>>& ranges) {
  Html html;
  html.isolate(plan.name);
  for (const PlannedChannel& channel : plan.channels) {
    html.isolate(channel.channel.name);
    html.isolate(channel.room);
    for (const LoadItem& item : channel.lamps) html.isolate(item.evidence.name);
  }
  const Provenance now = provenance_now("");
  for (const BoardSheet& sheet : sheets_of(plan)) {
    html.open("section", " class=\"sheet\"");
    html.heading(
        1, sheet.board.empty() ? html.text("Channels that hang on no board of the plan") : Html::name(sheet.board));
    const bool all = holds(sheet, verdict);
    html.paragraph(
        html.text(all ? "Everything on this sheet holds." : "Something on this sheet does NOT hold: see below."),
        all ? "answer good" : "answer bad");
    html.paragraph(html.text("Installation ") + Html::name(plan.name) + html.text(", " + plan_in_short(verdict) + "."));
    write_breakers(html, sheet, verdict);
    write_channels(html, sheet, plan, verdict, ranges);
    write_faults(html, sheet, verdict);
    write_notes(html, sheet, verdict);
    html.paragraph(html.text(fmt::format("Made {} (UTC) by lampload {}. Settings hold for the lamps named, over the "
                                         "supply's tolerance; other lamps ask for another plan.",
                                         now.time_utc, now.program_version)),
                   "soft");
    html.close("section");
  }
  return whole_page(plan.name, html, R"({"plots":[]})");
}

}  // namespace lampload
