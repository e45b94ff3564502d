#pragma once
// A lamp as a page to look at: the answer first, then what it rests on.

#include <optional>
#include <string>
#include <vector>

#include "cli/advice.h"
#include "cli/report/html.h"
#include "cli/report/plot.h"
#include "db/library.h"

namespace lampload {

/// What a report is made of. `record` has its samples.
struct LampReport {
  LampRecord record;
  LampEvidence evidence;
  std::optional<Advice> advice;  ///< empty: the lamp alone
};

/// The page and its plots so far; a section adds to both.
struct ReportPage {
  Html html;
  std::vector<Plot> plots;

  /// A figure with its caption and the table of figures behind it. `label`: what a screen reader says of it.
  void add(Plot plot, std::string_view label, std::string_view caption, const std::vector<std::string>& headings,
           const std::vector<std::vector<std::string>>& rows);
};

/// Each of these is a section, and writes nothing where it has nothing to say. `n`: of the lamp, which makes ids
/// differ.
void write_answer(ReportPage& page, const LampReport& lamp);
void write_captures(ReportPage& page, const LampReport& lamp);
void write_inrush(ReportPage& page, const LampReport& lamp);
void write_dimming(ReportPage& page, const LampReport& lamp);
void write_constraints(ReportPage& page, const LampReport& lamp);
void write_circuit(ReportPage& page, const LampReport& lamp);
void write_origin(ReportPage& page, const LampReport& lamp);

/// The whole page. `channel`: as the title says it; empty: none.
std::string report_html(const std::vector<LampReport>& lamps, const std::string& channel);

}  // namespace lampload
