// Each capture with the fitted current over it, what that leaves, and its harmonics.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cli/capture_preview.h"
#include "cli/quantity.h"
#include "cli/report/fitted_current.h"
#include "cli/report/lamp_report.h"
#include "cli/screens.h"
#include "core/standards/harmonic_limits.h"

namespace lampload {
namespace {

/// The part that is shown first: a few cycles, from the turn-on where there is one.
std::vector<double> first_shown(const StoredCapture& stored) {
  const Figures& figures = stored.figures;
  const Capture& capture = stored.capture;
  if (!figures.mains_frequency_hz) return {};
  const double cycle_s = 1.0 / *figures.mains_frequency_hz;
  const double end_s = capture.start_time_s + capture.duration_s();
  const auto time = [&](std::size_t sample) {
    return capture.start_time_s + static_cast<double>(sample) * capture.sample_interval_s;
  };
  if (figures.turn_on) {
    const double at = time(figures.turn_on->sample);
    return {std::max(capture.start_time_s, at - 0.5 * cycle_s), std::min(end_s, at + 4.0 * cycle_s)};
  }
  const double from = time(figures.steady_first);
  return {from, std::min(end_s, from + 3.0 * cycle_s)};
}

PlotSeries sampled(std::string label, Role role, const Capture& capture, std::vector<double> values) {
  PlotSeries series{.label = std::move(label), .role = role};
  series.y = std::move(values);
  series.x0 = capture.start_time_s;
  series.dx = capture.sample_interval_s;
  return series;
}

std::string ends_in_words(std::span<const double> part, const char* unit) {
  const auto [low, high] = std::minmax_element(part.begin(), part.end());
  return fmt::format("{} to {}", quantity(*low, unit, 3), quantity(*high, unit, 3));
}

/// The record in stretches: lowest and highest of each.
std::vector<std::vector<std::string>> stretches(const Capture& capture, const FittedCurrent& fitted) {
  constexpr std::size_t wanted = 40;
  std::vector<std::vector<std::string>> rows;
  const std::size_t samples = capture.samples();
  const std::size_t step = std::max<std::size_t>(1, (samples + wanted - 1) / wanted);
  for (std::size_t from = 0; from < samples; from += step) {
    const std::size_t count = std::min(step, samples - from);
    std::vector<std::string> row = {
        quantity(capture.start_time_s + static_cast<double>(from) * capture.sample_interval_s, "s", 5),
        ends_in_words(std::span(capture.voltage_v).subspan(from, count), "V"),
        ends_in_words(std::span(capture.current_a).subspan(from, count), "A")};
    if (!fitted.shown_a.empty()) {
      row.push_back(ends_in_words(std::span(fitted.shown_a).subspan(from, count), "A"));
      row.push_back(ends_in_words(std::span(fitted.residual_a).subspan(from, count), "A"));
    }
    rows.push_back(std::move(row));
  }
  return rows;
}

void add_waveforms(ReportPage& page, const StoredCapture& stored, const FittedCurrent& fitted) {
  const Capture& capture = stored.capture;
  Plot plot;
  plot.title = "Waveforms of " + capture.file;
  plot.x_label = "time";
  plot.x_unit = "s";
  plot.shown = first_shown(stored);
  plot.zoom = true;
  plot.panels.push_back(
      {"voltage", "V", 90, {sampled("voltage, measured", Role::voltage, capture, capture.voltage_v)}, {}});
  plot.panels.push_back(
      {"current", "A", 190, {sampled("current, measured", Role::measured, capture, capture.current_a)}, {}});
  std::vector<std::string> headings = {"from", "voltage", "current"};
  std::string label = fmt::format("Voltage and current of {} over time, {} peak", capture.file,
                                  quantity(stored.figures.current_peak_a, "A", 3));
  std::string caption = "Voltage and current as captured.";
  if (!fitted.shown_a.empty()) {
    plot.panels.back().series.push_back(sampled("current, fitted circuit", Role::model, capture, fitted.shown_a));
    plot.panels.push_back({"residual: measured less fitted",
                           "A",
                           90,
                           {sampled("residual", Role::residual, capture, fitted.residual_a)},
                           {}});
    headings.insert(headings.end(), {"fitted current", "residual"});
    const std::string left = fmt::format("{} rms", quantity(fitted.rms_a, "A", 3));
    label += fmt::format("; the fitted circuit's current lies over it and leaves a residual of {}", left);
    caption = fmt::format(
        "Voltage, current as captured (solid) with that of the fitted circuit (dashed) on the captured voltage, and "
        "what is left: {}. Where there are more samples than can be drawn, the lowest and the highest of each stretch "
        "are kept.",
        left);
  }
  page.add(std::move(plot), label, caption, headings, stretches(capture, fitted));
}

void add_harmonics(ReportPage& page, const StoredCapture& stored) {
  const CapturePreview preview = preview_of(stored);
  if (!preview.current_groups_a || !(preview.current_groups_a->rms[1] > 0.0)) return;
  const auto& rms = preview.current_groups_a->rms;
  HarmonicCurrents currents;
  std::copy_n(rms.begin(), std::min(rms.size(), currents.rms_a.size()), currents.rms_a.begin());
  currents.power_w = stored.figures.active_power_w;
  currents.power_factor = stored.figures.power_factor.value_or(1.0);
  Plot plot;
  plot.kind = Plot::Kind::bars;
  plot.title = "Harmonics of " + stored.capture.file;
  plot.x_label = "order";
  PlotSeries bars{.label = "current, rms", .role = Role::measured};
  PlotSeries marks{.label = "limit of this order", .role = Role::second};
  std::vector<std::vector<std::string>> rows;
  for (std::size_t order = 1; order < rms.size(); ++order) {
    bars.x.push_back(static_cast<double>(order));
    bars.y.push_back(rms[order]);
    // 0: none
    const double limit =
        preview.class_c && order > 1 ? class_c_limit_a(currents, static_cast<int>(order)).value_or(0.0) : 0.0;
    if (limit > 0.0) {
      marks.x.push_back(static_cast<double>(order));
      marks.y.push_back(limit);
    }
    if (order % 2 == 1) plot.x_ticks.push_back(static_cast<double>(order));
    rows.push_back({std::to_string(order), quantity(rms[order], "A", 3),
                    fmt::format("{:.1f} %", 100.0 * rms[order] / rms[1]), limit > 0.0 ? quantity(limit, "A", 3) : "-",
                    limit > 0.0 ? fmt::format("{:.0f} %", 100.0 * rms[order] / limit) : "-"});
  }
  std::string verdict = "No limits are drawn: " + preview.no_class_c + ".";
  if (preview.class_c) {
    const HarmonicUse& use = *preview.class_c;
    verdict =
        use.rule.empty()
            ? "IEC 61000-3-2 class C sets no limit for this power."
            : fmt::format("IEC 61000-3-2 class C: {}, {:.0f} % of the limit{} by the rule that decides ({}; {}).",
                          use.share <= 1.0 ? "kept" : "exceeded", 100.0 * use.share,
                          use.order > 0 ? fmt::format(" at order {}", use.order) : std::string(), use.rule, use.known);
    const bool over = stored.figures.active_power_w <= 25.0 && !marks.x.empty();
    if (over)
      verdict += " The marks are the limits per watt; up to 25 W waveform or total distortion may be kept instead.";
  }
  PlotPanel panel{"current", "A", 130, {std::move(bars)}, {}};
  if (!marks.x.empty()) panel.series.push_back(std::move(marks));
  plot.panels.push_back(std::move(panel));
  page.add(std::move(plot),
           fmt::format("Harmonics of the current of {} up to order 40, first {}", stored.capture.file,
                       quantity(rms[1], "A", 3)),
           fmt::format("Harmonics of the current up to order 40, in groups after IEC 61000-4-7. {}", verdict),
           {"order", "current, rms", "of the first", "limit", "of the limit"}, rows);
}

}  // namespace

void write_captures(ReportPage& page, const LampReport& lamp) {
  if (lamp.record.captures.empty()) return;
  Html& html = page.html;
  html.heading(2, html.text("The captures"));
  HtmlScreen overview(html, 3);
  show_figures_in_short(overview, lamp.record.captures);
  for (const StoredCapture& stored : lamp.record.captures) {
    html.heading(3, Html::name(stored.capture.file));
    HtmlScreen screen(html, 4);
    show_answer(screen, stored);
    if (stored.figures_only) {
      html.paragraph(html.text("Only its figures came here with a lamp model file, not its samples."), "warning");
    } else {
      add_waveforms(page, stored, fitted_current(lamp.record, stored));
      add_harmonics(page, stored);
    }
    html.details("All figures and quality notes: " + stored.capture.file);
    show_figures(screen, stored);
    html.close("details");
  }
}

}  // namespace lampload
