#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "cli/quantity.h"
#include "cli/report_json.h"
#include "cli/screens.h"

namespace lampload {
namespace {

std::string circuit(const FamilyReport& family) {
  return family.load_law.empty() ? spoken(family.family)
                                 : fmt::format("{} ({})", spoken(family.family), spoken(family.load_law));
}

std::string outcome_in_words(const std::string& outcome) {
  if (outcome == "set_aside") return "set aside: only mimics another kind of lamp";
  if (outcome == "not_refined") return "rival, too far behind to refine";
  if (outcome == "ruled_out") return "ruled out by the waveform";
  if (outcome == "no_start") return "no start converged";
  return spoken(outcome);
}

std::string end_in_words(const std::string& ended) {
  if (ended == "as_good_elsewhere") return "as good, other values";
  if (ended == "not_converged") return "did not converge";
  return spoken(ended);
}

std::string starting_sentence(std::string sentence) {
  if (!sentence.empty() && sentence[0] >= 'a' && sentence[0] <= 'z') sentence[0] = static_cast<char>(sentence[0] - 32);
  return sentence + ".";
}

void show_statistics(Screen& screen, const StoredFit& fit, const FitReport& report) {
  Table table({"", ""});
  table.add({"compared", fmt::format("{} in {}, {} free", counted(static_cast<int>(report.blocks), "block"),
                                     counted(static_cast<int>(report.captures.size()), "capture"),
                                     counted(static_cast<int>(report.unknowns), "unknown"))});
  table.add({"normalised residual", fmt::format("{:.2f}", fit.normalised_residual)});
  table.add({"autocorrelation of the residuals", fmt::format("{:.2f} at lag one", report.residual_autocorrelation)});
  table.add({"correlation length", fmt::format("{:.1f} blocks", report.correlation_length_blocks)});
  table.add({"half cycles that repeat the same", fmt::format("{:.1f}", report.repetition)});
  table.add({"bandwidth of the current channel",
             report.bandwidth_hz ? quantity(*report.bandwidth_hz, "Hz", 3) : "not shown by the captures"});
  screen.table(table, 2);
}

void show_captures(Screen& screen, const FitReport& report) {
  Table table({"capture", "blocks", "current offset", "current delay", "residual rms"});
  for (const CaptureReport& capture : report.captures) {
    table.add({capture.file.substr(capture.file.rfind('/') + 1), fmt::format("{}", capture.blocks),
               quantity(capture.current_offset_a, "A", 3), quantity(capture.current_delay_s, "s", 3),
               quantity(capture.residual_rms_a, "A", 3)});
  }
  screen.table(table, 2);
}

void show_correlations(Screen& screen, const StoredFit& fit) {
  const std::vector<ParameterCorrelation> pairs = high_correlations(fit);
  if (pairs.empty()) {
    screen.paragraph(fmt::format("No two parameters are correlated above {:g}.", high_correlation), 2);
    return;
  }
  Table table({"hardly told apart", "", "correlation"});
  for (const ParameterCorrelation& pair : pairs) {
    table.add({spoken(pair.first), spoken(pair.second), fmt::format("{:+.3f}", pair.correlation)});
  }
  screen.table(table, 2);
}

void show_families(Screen& screen, const FitReport& report) {
  double least = std::numeric_limits<double>::infinity();
  for (const FamilyReport& family : report.families) {
    for (const StartReport& start : family.starts) {
      if (start.ended != "not_converged") least = std::min(least, start.misfit);
    }
  }
  Table families({"family", "outcome", "distance"});
  Table starts({"family", "start", "misfit", "ended at", "stands for"});
  for (const FamilyReport& family : report.families) {
    families.add({circuit(family), outcome_in_words(family.outcome),
                  family.distance ? fmt::format("{:.1f}", *family.distance) : "-"});
    for (std::size_t n = 0; n < family.starts.size(); ++n) {
      const StartReport& start = family.starts[n];
      const bool converged = start.ended != "not_converged";
      starts.add({n == 0 ? circuit(family) : "", fmt::format("{}", n + 1),
                  converged ? fmt::format("+{:.0f}", start.misfit - least) : "-", end_in_words(start.ended),
                  !converged        ? "-"
                  : start.plausible ? spoken(family.family)
                                    : "another kind of lamp"});
    }
  }
  screen.table(families, 2);
  screen.line();
  screen.table(starts, 2);
  screen.paragraph(
      "Misfit: -2 ln(likelihood) on the coarse records of the search, above the best start of all families. Distance: "
      "information criterion on held-out cycles, above the chosen family.",
      2);
}

}  // namespace

void show_contradictions(Screen& screen, const StoredFit& fit) {
  if (fit.report.empty()) return;
  const std::optional<FitReport> report = report_from_json(fit.report);
  for (const ObservationReport& one : report->observations) {
    if (!one.counted) screen.paragraph(starting_sentence(one.sentence), 2, Style::warning);
  }
}

namespace {

void show_report(Screen& screen, const StoredFit& fit) {
  screen.line("How the fit came about", Style::heading);
  const std::optional<FitReport> report = report_from_json(fit.report);
  if (!report) {
    screen.paragraph(fit.family.empty() ? "No start of any family converged: there is nothing to report."
                                        : "No report of this fit is kept: an earlier version made it, or it came in a "
                                          "lamp model file, which carries none. 'lampload fit' makes one where the "
                                          "captures' samples are here.",
                     2);
    return;
  }
  show_statistics(screen, fit, *report);
  screen.line();
  show_captures(screen, *report);
  screen.line();
  show_correlations(screen, fit);
  screen.line();
  for (const ObservationReport& one : report->observations) screen.paragraph(starting_sentence(one.sentence), 2);
  if (!report->observations.empty()) screen.line();
  for (const HeldReport& held : report->held) screen.paragraph(spoken_sentence(held.sentence) + ".", 2);
  if (!report->held.empty()) screen.line();
  show_families(screen, *report);
}

}  // namespace

void show_reports(Screen& screen, const StoredFit& fit) {
  if (fit.samples.empty()) show_report(screen, fit);
  for (const StoredFit& sample : fit.samples) {
    if (&sample != &fit.samples.front()) screen.line();
    screen.line("Sample " + sample.sample, Style::heading);
    show_report(screen, sample);
  }
}

}  // namespace lampload
