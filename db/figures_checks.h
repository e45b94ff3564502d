#pragma once
// Whether the figures of one capture can be true together.

#include "db/json_reader.h"
#include "db/library.h"

namespace lampload {

/// Relations between figures that hold for every capture, and what the label says of the supply. `at` is the object
/// that they were read from, for the place of a fault. Throws Error{input_refused}.
void check_figures(const StoredCapture& stored, const Nominal& nominal, const json::Object& at);

}  // namespace lampload
