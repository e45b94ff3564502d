#pragma once
// Which known names a mistyped one may have meant.

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lampload {

/// Up to `most` known names, nearest first by edit distance without regard to ASCII case (a name that contains the
/// asked one counts as near); names too far away to be meant are left out.
std::vector<std::string> nearest_names(std::string_view asked, std::span<const std::string> known,
                                       std::size_t most = 3);

/// "the nearest are 'a', 'b'", or, where nothing is near, "there are 'x', 'y', ..." or `none` for an empty list.
std::string nearest_sentence(std::string_view asked, std::span<const std::string> known, std::string_view none);

}  // namespace lampload
