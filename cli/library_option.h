#pragma once
// Which library a command works on. A file that is not there yet is a library that holds nothing.

#include <string>

#include "db/library.h"

namespace lampload {

struct LibraryOption {
  std::string given;  ///< empty: the default place

  [[nodiscard]] std::string path() const;
  [[nodiscard]] bool holds_nothing_yet() const;
  /// For commands that look for something stored. Throws Error{not_found} where nothing is.
  [[nodiscard]] Library open_existing(Library::Access access) const;
};

}  // namespace lampload
