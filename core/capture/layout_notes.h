#pragma once
// What the text above a table says of its columns and was not understood.

#include <string>
#include <vector>

#include "core/capture/capture.h"
#include "core/capture/layout.h"

namespace lampload {

/// Warnings for a person who relies on the values: a unit that is not known, a header that was not used, converter
/// codes without a scale. What the options or a written layout say is not asked again. head: the first lines of the
/// file.
std::vector<QualityNote> layout_notes(const std::vector<std::string>& head, const Layout& layout,
                                      const ChosenColumns& chosen, const CaptureOptions& options);

}  // namespace lampload
