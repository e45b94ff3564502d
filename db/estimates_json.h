#pragma once
// The estimates of a fit as a JSON text: what the library keeps of them, packed (packing.h).

#include <string>
#include <string_view>
#include <vector>

#include "db/library.h"

namespace lampload {

struct FitEstimates {
  std::vector<StoredEstimate> parameters;
  std::vector<StoredEstimate> derived;
};

/// {"parameters":[[name, unit, value, standard uncertainty, lower end, upper end, identified, remark], ...],
/// "derived":[...]}; doubles come back bit for bit. Nothing at all is an empty text.
std::string estimates_to_json(const FitEstimates& estimates);

/// Throws Error{library} where the text is not what estimates_to_json() writes.
FitEstimates estimates_from_json(std::string_view text);

}  // namespace lampload
