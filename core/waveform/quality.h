#pragma once
// What a person should know about a capture before trusting it; codes are listed in docs/captures.md.

#include <optional>
#include <vector>

#include "core/waveform/cut.h"
#include "core/waveform/cycles.h"
#include "core/waveform/figures.h"
#include "core/waveform/power.h"

namespace lampload {

/// What measure() found on the way.
struct QualityInput {
  const Capture& capture;
  const Nominal& nominal;
  const Figures& figures;
  const PowerTerms& power;
  CycleWindow window;
  bool alternating = true;
  std::optional<MainsSine> sine;
  std::optional<double> early_current_s;  ///< see channel_delay.h
  double current_noise_a = 0.0;           ///< DC: of one sample, while the lamp is fed
};

/// Notes in the order of docs/captures.md; the capture's own notes are not repeated.
std::vector<QualityNote> quality_notes(const QualityInput& input);

}  // namespace lampload
