#pragma once
// Where the tests find the source tree.

#include <string>

namespace lampload::test {

/// Absolute, without a slash at its end.
std::string source_folder();
/// The boathouse's captures and channels, with a slash at the end.
std::string samples_folder();

}  // namespace lampload::test
