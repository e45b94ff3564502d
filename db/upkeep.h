#pragma once
// Looking after a library file: is it whole, a copy of it, back from a copy, and what can be read of a damaged one.

#include <cstddef>
#include <string>
#include <vector>

namespace SQLite {
class Database;
}

namespace lampload {

struct LibraryCheck {
  std::vector<std::string> faults = {};  ///< sentences; empty: the library is whole
  std::size_t lamps = 0, captures = 0, fits = 0, channels = 0;
};

/// Reads all of it and changes nothing: SQLite's own check, references, every array of samples, every document kept as
/// text, the figures of each capture against its samples, what the list repeats, the circuit of each fit, every
/// channel, every received record against its digest. A damaged file is told among the faults; throws Error{library}
/// only where there is nothing to look at.
LibraryCheck check_library(const std::string& path);

/// The same of a library that is open. Throws where the file cannot be read at all.
LibraryCheck check_library(SQLite::Database& db);

/// A copy as it is at this moment, whatever others write. Throws Error{library} where `copy` exists already (it is left
/// alone) or could not be written (nothing is left then).
void back_up_library(const std::string& path, const std::string& copy);

/// Puts a whole library in the place of the one at `path`, which is kept beside it first. Returns where it is kept;
/// empty: there was none. Throws Error{library} where `copy` is no whole library.
std::string restore_library(const std::string& path, const std::string& copy);

struct Salvage {
  std::size_t rows = 0;              ///< taken over
  std::vector<std::string> damaged;  ///< tables that could not be read to their end, and what was left out; sentences
};

/// What can be read of the library at `path`, which is not changed, into a new library. Rows whose references are lost,
/// and captures whose samples do not unpack, are left out. Throws Error{library} where `target` exists or nothing can
/// be read.
Salvage salvage_library(const std::string& path, const std::string& target);

}  // namespace lampload
