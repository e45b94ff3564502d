#pragma once
// How to measure a kind of lamp: which captures, ranges, rates and triggers, and what to beware of.

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

struct GuidedCapture {
  std::string kind;  ///< "steady", "turn_on", "leading_edge", "trailing_edge", "pulse_width"
  std::string how;
  std::string range;  ///< of the current
  double sample_rate_hz = 0.0;
  double duration_s = 0.0;
  std::string trigger;
};

struct CaptureGuide {
  std::string word;                   ///< what --guide takes
  std::string lamp;                   ///< "filament lamp"
  std::vector<std::string> families;  ///< that such a lamp may turn out to be
  std::vector<std::string> cautions;  ///< of this kind, beside the usual ones
  std::vector<std::string> probes;
  std::vector<GuidedCapture> captures;  ///< in the order in which to take them
  std::vector<std::string> deskew;
  std::string afterwards;
};

std::vector<std::string> guided_lamps();
/// `word`: one of guided_lamps().
CaptureGuide capture_guide(const std::string& word);

}  // namespace lampload
