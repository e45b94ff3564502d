#pragma once
// Figures, capture options and quality notes as the JSON text of the library's columns, and back without loss.

#include <string>
#include <vector>

#include "core/capture/capture.h"
#include "core/waveform/figures.h"

namespace lampload {

/// Throws Error{input_refused} naming the key of a value that is not finite.
std::string figures_to_json(const Figures& figures);
std::string options_to_json(const CaptureOptions& options);
std::string notes_to_json(const std::vector<QualityNote>& notes);

/// Throw Error{library} where the text is not what the functions above write.
Figures figures_from_json(const std::string& text);
CaptureOptions options_from_json(const std::string& text);
std::vector<QualityNote> notes_from_json(const std::string& text);

}  // namespace lampload
