#pragma once
// The one way to write a JSON value that digests and signatures are made of: RFC 8785. No blanks, keys in the order of
// their UTF-16 code units, numbers as ECMAScript writes them.

#include <string>
#include <string_view>

#include "db/json_reader.h"

namespace lampload::json {

/// A finite double in the form of ECMAScript's Number::toString (ECMA-262; RFC 8785 3.2.2.3). -0 becomes 0.
std::string canonical_number(double value);

/// Throws Error{input_refused} for a number that is not finite.
std::string canonical(const Json& value);

/// The same keys in the same order over several lines, two spaces a level, for files that people compare line by line:
/// lists of bare numbers and of texts stay on one line. Ends with a line feed.
std::string laid_out(const Json& value);

}  // namespace lampload::json
