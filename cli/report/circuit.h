#pragma once
// The equivalent circuit of a fit as a drawing, by the family's own schematic.

#include <span>
#include <string>
#include <vector>

#include "cli/report/html.h"
#include "core/lamp/schematic.h"
#include "db/library.h"

namespace lampload {

/// A part that the lamp has, with its values in words.
struct DrawnPart {
  Symbol symbol = Symbol::wire;
  Placement placement = Placement::across;
  std::vector<std::string> labels;
};

/// The parts that are there, from the terminals inwards; the first of a column is never `with_previous`. Empty where
/// the fit's family is not known.
std::vector<DrawnPart> drawn_parts(const StoredFit& fit);

/// "From the terminals inwards: in series resistance 72.5 Ohm; ..."
std::string circuit_in_words(const std::vector<DrawnPart>& parts);

Markup circuit_drawing(const std::vector<DrawnPart>& parts, const Html& page);

}  // namespace lampload
