#pragma once
// Lamps of the library as they are put on a channel.

#include <string>
#include <vector>

#include "cli/library_option.h"
#include "core/advice/recommendation.h"
#include "core/circuit/path.h"
#include "core/error.h"
#include "db/library.h"

namespace lampload {

struct NamedLamps {
  std::string name;
  LampEvidence evidence;  ///< its lamp is always there
  int count = 1;
  std::string caution = {};  ///< of one that came from elsewhere (short_caution_of()); empty: none
};

/// One lamp by its name. Throws as stored_lamps() does.
NamedLamps stored_lamp(const std::string& name, const LibraryOption& library);

/// "NAME" or "NAME=COUNT" each; a name that ends like a count is meant as a name where a lamp is called so. Throws
/// Error{usage} for a count that is none, Error{not_found} as Library does, Error{input_refused} for a lamp without an
/// accepted fit.
std::vector<NamedLamps> stored_lamps(const std::vector<std::string>& words, const LibraryOption& library);

/// Why a lamp has no circuit to put anywhere, and what to do.
Error no_circuit(const LampRecord& lamp);

/// Of all of them, each once.
std::vector<std::string> cautions_of(const std::vector<NamedLamps>& lamps);

/// A line each on standard error.
void tell_cautions(const std::vector<std::string>& cautions, bool quiet);

std::vector<LampGroup> groups_of(const std::vector<NamedLamps>& lamps);

/// "4 x stair candle, 1 x clubroom pendant".
std::string lamps_in_words(const std::vector<NamedLamps>& lamps);

/// The mode of that name ("leading_edge", ...). Throws Error{usage} where the channel cannot do it, naming those it
/// can.
Mode mode_on(const Channel& channel, const std::string& name);

}  // namespace lampload
