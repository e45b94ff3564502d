#pragma once
// WAV files, as sound interfaces and loggers write them: RIFF and RF64 (EBU Tech 3306), PCM of 8 to 32 bits, IEEE
// floats of 32 and 64 bits, plain and extensible headers.

#include "core/capture/readers.h"

namespace lampload {

Recognition recognise_wav(const FileStart& start);

/// Values are fractions of full scale: volts and amperes come from the person's scale factors. Channels in order:
/// voltage, current.
Capture read_wav(const std::string& path, const CaptureOptions& options, Channels channels);

}  // namespace lampload
