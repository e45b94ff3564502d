#pragma once
// One library into another: what the other holds and this one does not, with everything that belongs to it.

#include <cstddef>
#include <string>
#include <vector>

#include "db/library.h"

namespace lampload {

struct MergedLamp {
  Receipt receipt;
  Trust trust = Trust::own;  ///< by the other library's own word
  bool superseded = false;   ///< another took its place there
  std::string refused;       ///< why it cannot be taken; empty: it can
};

/// What became of the other library, or would.
struct LibraryMerge {
  std::vector<MergedLamp> lamps;
  std::vector<Receipt> channels;
  std::vector<Receipt> keys;  ///< decisions about signers
  std::size_t own = 0;        ///< lamps that count as measured here from now on, because they do there
  bool stored = false;        ///< false: nothing was changed

  [[nodiscard]] std::size_t refused() const;
  [[nodiscard]] bool changes() const;
};

/// Takes over lamps with their captures, fits, comparisons, records and predecessors, channels, and decisions about
/// signers, in one transaction; nothing is overwritten, and nothing at all changed where a lamp is refused or on a
/// trial run. A lamp of the same content is left as it is; where another one of its name is stored, `on_conflict` says
/// what is done, for lamps as for channels. A decision about a signer that was taken here stays. The other library is
/// opened to read and looked through whole first. Throws Error{library}: it is not whole, newer than this program, no
/// library, or this one itself.
LibraryMerge merge_library(const std::string& path, const std::string& other, OnConflict on_conflict, bool trial,
                           const std::string& time_utc);

}  // namespace lampload
