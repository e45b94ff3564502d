#pragma once
// What a person looks at before trusting a capture: how the file was understood, its first rows, its parts, its
// harmonics.

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "core/standards/harmonic_limits.h"
#include "core/waveform/harmonic_groups.h"
#include "core/waveform/segments.h"
#include "db/library.h"

namespace lampload {

struct CapturePreview {
  FileForm form;
  std::vector<std::array<double, 3>> first_rows;   ///< time [s], voltage [V], current [A], as they are used
  std::vector<Segment> segments;                   ///< on mains
  std::optional<HarmonicGroups> current_groups_a;  ///< on mains, of the steady cycles
  /// Of an uncut lamp on a supply that the standard covers; else why not.
  std::optional<HarmonicUse> class_c;
  std::string no_class_c;
};

CapturePreview preview_of(const StoredCapture& capture);

}  // namespace lampload
