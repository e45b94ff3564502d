#pragma once
// What people read: figures, fits and recommendations as text.

#include <optional>
#include <string>
#include <vector>

#include "cli/advice.h"
#include "cli/capture_guide.h"
#include "cli/capture_preview.h"
#include "cli/terminal.h"
#include "core/advice/recommendation.h"
#include "db/library.h"

namespace lampload {

/// What a capture is and whether it is good enough, in a sentence.
void show_answer(Screen& screen, const StoredCapture& capture);
/// All figures and quality notes of a capture.
void show_figures(Screen& screen, const StoredCapture& capture);
/// Both waveforms, harmonics, parts of the record, how the file was understood.
void show_preview(Screen& screen, const StoredCapture& capture, const CapturePreview& preview);
/// How to measure a kind of lamp.
void show_guide(Screen& screen, const CaptureGuide& guide);
/// One row a capture, then the quality notes that are more than notes.
void show_figures_in_short(Screen& screen, const std::vector<StoredCapture>& captures);

/// The pieces behind the mean lamp, and how far they differ; one line where one piece was measured.
void show_samples(Screen& screen, const StoredFit& fit);
/// "5 %: what is usual (common practice, no source), as one sample was measured".
std::string spread_in_words(const LoadSpread& spread);

/// Equivalent circuit, derived figures, residual, runner-up, what is not identified and what would show it.
void show_fit(Screen& screen, const StoredFit& fit);
/// Knowledge from elsewhere that disagrees with the captures; usually nothing.
void show_contradictions(Screen& screen, const StoredFit& fit);
/// How the fit came about: statistics, captures, correlations, what is held and why, starts, families.
/// Of a lamp type that of each sample's fit.
void show_reports(Screen& screen, const StoredFit& fit);
/// "filament, 40.1 W", "no family describes this lamp".
std::string fit_in_short(const StoredFit& fit, const std::vector<StoredCapture>& captures);

/// "trailing edge", "on/off only".
const char* mode_in_words(Mode mode);
/// "trailing edge, at most 14 lamps (22 with central values), limited by surge peak".
std::string recommendation_in_short(const Recommendation& recommendation);
/// The answer, the reasons for it, constraints of the best mode, the other modes in one line each, what was not
/// checked, cautions.
void show_recommendation(Screen& screen, const Advice& advice, bool from_waveform_alone);

}  // namespace lampload
