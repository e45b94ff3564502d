#include "cli/report/lamp_report.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cli/advice_output.h"
#include "cli/basis.h"
#include "cli/comparison_output.h"
#include "cli/measuring.h"
#include "cli/quantity.h"
#include "cli/report/circuit.h"
#include "cli/report_json.h"
#include "cli/screens.h"

namespace lampload {
namespace {

constexpr int section_level = 3;  // of headings inside a section

std::string answer_of(const LampReport& lamp) {
  if (lamp.advice) return recommendation_in_short(lamp.advice->recommendation);
  if (!lamp.record.fit) return "not fitted yet: figures of the captures alone";
  return fit_in_short(*lamp.record.fit, lamp.record.captures);
}

std::string_view class_of_answer(const LampReport& lamp) {
  if (!lamp.advice) return lamp.record.fit && lamp.record.fit->accepted ? "answer" : "answer warning";
  return lamp.advice->recommendation.mode == Mode::none ? "answer bad" : "answer good";
}

std::string count_in_words(const std::optional<int>& lamps) {
  if (!lamps) return "-";
  return *lamps >= 1000 ? "1000 or more" : std::to_string(*lamps);
}

void write_modes(Html& html, const Recommendation& r) {
  std::vector<std::vector<std::string>> rows;
  for (const ModeVerdict& mode : r.modes) {
    rows.push_back({mode_in_words(mode.mode), count_in_words(mode.max_lamps), count_in_words(mode.max_lamps_nominal),
                    spoken(mode.limited_by), spoken(mode.next_limit),
                    mode.mode == Mode::leading_edge || mode.mode == Mode::trailing_edge
                        ? fmt::format("{:.0f} to {:.0f} deg", mode.min_conduction_deg, mode.max_conduction_deg)
                        : "-"});
  }
  html.table(
      "All modes of the channel, best first",
      {"mode", "lamps, with all margins", "with central values", "limited by", "next limit", "conduction angles"},
      rows);
}

/// Correlations of all parameters that the fit left free.
void write_correlations(Html& html, const StoredFit& fit) {
  const std::vector<std::size_t> free = free_parameters(fit);
  if (free.size() < 2) return;
  std::vector<std::string> headings = {""};
  std::vector<std::vector<std::string>> rows;
  for (const std::size_t a : free) {
    headings.push_back(spoken(fit.parameters[a].name));
    std::vector<std::string> row = {spoken(fit.parameters[a].name)};
    // + 0.0 takes the sign from a zero
    for (const std::size_t b : free) {
      row.push_back(fmt::format("{:.2f}", std::round(100.0 * correlation_of(fit, a, b)) / 100.0 + 0.0));
    }
    rows.push_back(std::move(row));
  }
  html.heading(section_level, html.text("Correlation of the parameters"));
  html.paragraph(html.text("1 or -1: the captures tell only a combination of the two; 0: they tell each by itself."),
                 "soft");
  html.table("", headings, rows, "numbers matrix");
}

}  // namespace

void ReportPage::add(Plot plot, std::string_view label, std::string_view caption,
                     const std::vector<std::string>& headings, const std::vector<std::vector<std::string>>& rows) {
  html.open("figure", fmt::format(" data-plot=\"{}\" data-label=\"{}\"", plots.size(), Html::attribute(label).html));
  html.open("figcaption");
  html.raw(html.text(caption));
  html.raw({"<noscript> The picture needs scripts; its figures are in the table.</noscript>\n"});
  html.close("figcaption");
  html.close("figure");
  html.details("Figures: " + plot.title);
  html.table(plot.title, headings, rows, "numbers");
  html.close("details");
  plots.push_back(std::move(plot));
}

void write_answer(ReportPage& page, const LampReport& lamp) {
  Html& html = page.html;
  html.paragraph(html.text(answer_of(lamp)), class_of_answer(lamp));
  if (!lamp.advice) {
    html.paragraph(html.text("No channel was named, so this says nothing of modes and counts."));
    return;
  }
  const Recommendation& r = lamp.advice->recommendation;
  html.paragraph(html.text("On channel ") + Html::name(r.channel) + html.text("."));
  if (!lamp.evidence.lamp) {
    html.paragraph(html.text("From the measured waveform alone: no circuit stands behind the counts."), "warning");
  }
  HtmlScreen screen(html, section_level);
  show_reasons(screen, *lamp.advice);
  if (r.mode == Mode::leading_edge || r.mode == Mode::trailing_edge) {
    html.paragraph(
        html.text(fmt::format("Firmware may use conduction angles from {:.0f} to {:.0f} deg of each half cycle.",
                              r.min_conduction_deg, r.max_conduction_deg)));
  }
  html.paragraph(html.text(
      fmt::format("Confidence: {}{}{}.", r.confidence, r.confidence_reason.empty() ? "" : ": ", r.confidence_reason)));
  if (!r.modes.empty()) write_modes(html, r);
}

void write_circuit(ReportPage& page, const LampReport& lamp) {
  if (!lamp.record.fit) return;
  const StoredFit& fit = *lamp.record.fit;
  Html& html = page.html;
  html.heading(2, html.text("The equivalent circuit"));
  const std::vector<DrawnPart> parts = drawn_parts(fit);
  if (!parts.empty()) {
    html.open("figure", " class=\"circuit\"");
    html.open("div",
              " class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Drawing of the equivalent circuit\"");
    html.raw(circuit_drawing(parts, html));
    html.close("div");
    html.open("figcaption");
    html.raw(html.text(circuit_in_words(parts)));
    html.close("figcaption");
    html.close("figure");
  }
  HtmlScreen screen(html, section_level);
  show_fit(screen, fit);
  show_samples(screen, fit);
  write_correlations(html, fit);
  html.details("How the fit came about");
  HtmlScreen inside(html, section_level);
  show_reports(inside, fit);
  html.close("details");
}

void write_origin(ReportPage& page, const LampReport& lamp) {
  Html& html = page.html;
  html.heading(2, html.text("Where it comes from"));
  std::vector<std::vector<std::string>> rows;
  for (const StoredCapture& stored : lamp.record.captures) {
    const Provenance& from = stored.provenance;
    rows.push_back({stored.capture.file,
                    fmt::format("of {}; stored by {} at {} (UTC) with lampload {}; instrument: {}; SHA-256 {}",
                                stored.sample, from.person, from.time_utc, from.program_version,
                                from.instrument.empty() ? "not said" : from.instrument, stored.sha256)});
  }
  html.table("Captures", {"file", "origin"}, rows, "long");
  if (lamp.record.fit) {
    const Provenance& by = lamp.record.fit->provenance;
    html.paragraph(html.text(fmt::format("Fitted by {}, {}, lampload {}; newest of {}.", by.person, by.time_utc,
                                         by.program_version, counted(lamp.record.fits, "fit"))));
  }
  for (const StoredComparison& stored : lamp.record.comparisons) {
    html.paragraph(html.text(comparison_in_short(stored)));
  }
  if (lamp.record.nominal.base) html.paragraph(html.text("Base: " + *lamp.record.nominal.base));
  if (lamp.record.nominal.technology) html.paragraph(html.text("Technology: " + *lamp.record.nominal.technology));
  if (!lamp.record.notes.empty()) html.paragraph(html.text("Notes: " + lamp.record.notes));

  if (lamp.advice) {
    const Recommendation& r = lamp.advice->recommendation;
    html.heading(2, html.text("What was not checked"));
    std::vector<Markup> items;
    for (const std::string& what : r.not_checked) items.push_back(html.text(spoken_sentence(what)));
    html.list(items);
    if (items.empty())
      html.paragraph(html.text("Nothing that the channel's description gives a limit for was left out."));
  }
  html.heading(2, html.text("Cautions"));
  std::vector<Markup> items;
  if (lamp.advice) {
    for (const std::string& caution : lamp.advice->recommendation.cautions) {
      items.push_back(html.text(spoken_sentence(caution)));
    }
  } else if (const std::string caution = caution_of(lamp.record.name, lamp.record.trust, lamp.record.origin);
             !caution.empty()) {
    items.push_back(html.text(caution + "."));
  }
  const bool said = std::any_of(items.begin(), items.end(),
                                [&](const Markup& item) { return item.html == html.text(measuring_cautions()).html; });
  if (!said) items.push_back(html.text(measuring_cautions()));
  html.list(items);
}

std::string report_html(const std::vector<LampReport>& lamps, const std::string& channel) {
  ReportPage page;
  std::string title;
  for (const LampReport& lamp : lamps) {
    title += (title.empty() ? "" : ", ") + lamp.record.name;
    page.html.isolate(lamp.record.name);
    for (const StoredCapture& stored : lamp.record.captures) page.html.isolate(stored.capture.file);
  }
  if (!channel.empty()) {
    page.html.isolate(channel);
    title += " on " + channel;
  }
  if (lamps.size() > 1) {
    page.html.heading(1, page.html.text(title));
    page.html.open("nav", " aria-label=\"Lamps\"");
    std::vector<Markup> links;
    for (std::size_t n = 0; n < lamps.size(); ++n) {
      links.push_back(Markup{fmt::format("<a href=\"#lamp-{}\">", n + 1)} + Html::name(lamps[n].record.name) +
                      Markup{"</a>"} + page.html.text(": " + answer_of(lamps[n])));
    }
    page.html.list(links);
    page.html.close("nav");
  }
  for (std::size_t n = 0; n < lamps.size(); ++n) {
    const LampReport& lamp = lamps[n];
    page.html.open("article", fmt::format(" class=\"lamp\" id=\"lamp-{}\"", n + 1));
    page.html.heading(1, Html::name(lamp.record.name));
    // What a bad source says comes before what it says.
    if (lamp.record.trust == Trust::revoked_signer) {
      page.html.paragraph(page.html.text(fmt::format(
                              "Caution: {}.", caution_of(lamp.record.name, lamp.record.trust, lamp.record.origin))),
                          "answer warning");
    }
    write_answer(page, lamp);
    write_captures(page, lamp);
    write_inrush(page, lamp);
    write_dimming(page, lamp);
    write_constraints(page, lamp);
    write_circuit(page, lamp);
    write_origin(page, lamp);
    page.html.close("article");
  }
  const Provenance now = provenance_now("");
  page.html.paragraph(page.html.text(fmt::format("Made {} (UTC) by lampload {}. Advice from a model of measured lamps; "
                                                 "local codes and licensed practice come first.",
                                                 now.time_utc, now.program_version)),
                      "soft");
  constexpr std::size_t stretches_of_all = 70000;  // in all captures together: six of them stay under 2 MB
  std::size_t captures = 0;
  for (const LampReport& lamp : lamps) captures += lamp.record.captures.size();
  return whole_page(title, page.html, plots_json(page.plots, stretches_of_all / std::max<std::size_t>(captures, 1)));
}

}  // namespace lampload
