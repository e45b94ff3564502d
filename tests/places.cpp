#include "tests/places.h"

namespace lampload::test {

// The one file that is told the folder, so that the others compile alike everywhere.
std::string source_folder() { return LAMPLOAD_SOURCE_DIR; }

std::string samples_folder() { return source_folder() + "/sample_captures/"; }

}  // namespace lampload::test
