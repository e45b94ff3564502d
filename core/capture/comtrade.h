#pragma once
// COMTRADE records (IEEE C37.111-1991, -1999, -2013): configuration and data files beside each other, or both in one
// (.cff). Data as text, or binary with 16-bit or 32-bit integers or 32-bit floats.

#include "core/capture/readers.h"

namespace lampload {

/// Of the configuration, of the data file with a configuration beside it, or of the single file.
Recognition recognise_comtrade(const FileStart& start);

/// Analog channels by their names and units. Throws Error{input_refused}.
Capture read_comtrade(const std::string& path, const CaptureOptions& options, Channels channels);

}  // namespace lampload
