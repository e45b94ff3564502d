#pragma once
// Forms of files that people take captures for, or that captures come in, and that are not read: to say so plainly.

#include <optional>
#include <string_view>

#include "core/capture/readers.h"

namespace lampload {

struct OtherForm {
  std::string_view name;  ///< with its article: "a zip archive or spreadsheet"
  std::string_view remedy;
};

/// Told by the first bytes. Empty: none of those known.
std::optional<OtherForm> other_form(const FileStart& start);

}  // namespace lampload
