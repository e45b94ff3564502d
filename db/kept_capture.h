#pragma once
// A row of captures as it lies in the file, for those who look whether it is whole.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <string>

#include "core/capture/capture.h"
#include "core/waveform/figures.h"

namespace lampload::rows {

struct KeptCapture {
  Capture capture;  ///< empty where only figures are kept
  Figures figures;
  std::string sha256, program_version;
  bool received = false;  ///< the figures are those of a lamp model file
};

/// All of a row that can be wrong by itself. Throws Error{library}.
KeptCapture kept_capture(SQLite::Database& db, std::int64_t id);

}  // namespace lampload::rows
