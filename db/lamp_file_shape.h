#pragma once
// Whether a document has the keys of a lamp model file, each with what it may hold.

#include "db/json_reader.h"
#include "db/lamp_file_keys.h"

namespace lampload::lamp_keys {

/// Every key of the document and of what is in it. Throws Error{input_refused} with the path of the first fault.
void check_shape(const json::Object& object, Shape shape);

/// Of a text that is shown to people on one line: control characters and such as change the direction of writing.
/// Empty: none.
std::string fault_of_line(std::string_view text);

}  // namespace lampload::lamp_keys
