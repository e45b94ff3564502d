#pragma once
// NumPy arrays in files (.npy, format versions 1 to 3): numbers in rows and columns, or records with named fields.

#include "core/capture/readers.h"

namespace lampload {

Recognition recognise_numpy(const FileStart& start);

/// A row (or a column, where there are fewer of those) is a channel; fields of records are channels by name. Throws
/// Error{input_refused}.
Capture read_numpy(const std::string& path, const CaptureOptions& options, Channels channels);

}  // namespace lampload
