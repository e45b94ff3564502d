#pragma once
// Which capture to take next: the one that would narrow most what is known worst of the lamp's load on a channel.
//
// What is open is what the lamp count allows for (core/advice/left_open.h). Each capture that could still be taken is
// simulated with the fitted lamp, and its Fisher information (the fit's own residuals on it) is added to that of the
// captures there are (fit/trial_capture.h). What the family does not know of real circuits, and the instruments' scale
// errors, no capture lessens.

#include <span>
#include <vector>

#include "core/capture/capture.h"
#include "core/waveform/figures.h"
#include "fit/capture_value.h"
#include "fit/family_search.h"
#include "fit/fit.h"
#include "fit/uncertainty.h"

namespace lampload {

/// The value of every capture that could be taken, in the order in which a person would rather take them.
/// solution: on the captures there are, its free unknowns as the uncertainty was computed with.
/// evidence: of the fit, with its lamp. scale_errors: what no further capture with these instruments lessens.
std::vector<CaptureValue> values_of_captures(LampResiduals& solution, const Candidate& candidate,
                                             const Uncertainty& uncertainty, const LampEvidence& evidence,
                                             std::span<const Capture> captures, const OperatingPoint& at,
                                             const UncertaintyOptions& scale_errors, unsigned threads);

/// The best of them in words; empty where the worst figure is known well enough, or no capture helps.
NextCapture next_capture(std::vector<CaptureValue> values);

/// Where the lamp may be of another family, which shows itself in `FamilyInfo::plain_until` alone: that capture.
NextCapture to_tell_from(const FamilyInfo& other, NextCapture next);

}  // namespace lampload
