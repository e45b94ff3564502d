#include "cli/library_option.h"

#include <filesystem>

#include "core/error.h"

namespace lampload {

std::string LibraryOption::path() const { return given.empty() ? Library::default_path() : given; }

bool LibraryOption::holds_nothing_yet() const {
  std::error_code error;
  return !std::filesystem::exists(path(), error) && !error;
}

Library LibraryOption::open_existing(Library::Access access) const {
  if (holds_nothing_yet()) {
    throw Error(ErrorCode::not_found, "nothing is stored here yet", Place{.file = path()},
                "Store a lamp or a channel first, or name another file with --library");
  }
  return Library::open(path(), access);
}

}  // namespace lampload
