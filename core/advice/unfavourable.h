#pragma once
// The lamp at the unfavourable ends of what is known of it.

#include <string>
#include <vector>

#include "core/advice/recommendation.h"

namespace lampload {

/// The central lamp first, then lamps at the edge of what is known (95 %): for each figure that loads a channel (see
/// load_figures.h, on a supply as `at` says) the one that has most of it and the one that has least, found as for the
/// propagation of uncertainty (JCGM 100, 5.2): parameters that the captures tie together move together, as the
/// covariance says, independent contributions add by their squares. A parameter of which the captures say nothing moves
/// within its interval (no further than a factor of ten from the central value). What hardly moves any figure, and
/// everything where there are no such figures (DC), is moved by itself, up and down. Values stay within the table's
/// bounds.
std::vector<Lamp> unfavourable_lamps(const LampEvidence& evidence, const OperatingPoint& at);

/// A load figure at both its ends: the lamps that have least and most of it.
struct FigureEnds {
  Lamp least, most;
};

/// One for each figure that loads a channel, in the order of load_figures(); empty where there are none.
std::vector<FigureEnds> figure_ends(const LampEvidence& evidence, const OperatingPoint& at);

/// Names of the parameters that the captures do not identify, each with the capture that would.
std::vector<std::string> unidentified_parameters(const LampEvidence& evidence);

}  // namespace lampload
