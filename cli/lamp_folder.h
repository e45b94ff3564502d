#pragma once
// A folder of lamp model files, one a lamp, as it lies in a repository that people share.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "db/lamp_file.h"

namespace lampload {

/// How the names of its files end.
inline constexpr const char* lamp_file_ending = ".lamp.json";

/// Something in a folder that is not read, and why.
struct LeftOut {
  std::string file;
  std::string why;
};

struct FolderContent {
  std::vector<std::string> files;  ///< in the order of their names
  std::vector<LeftOut> left_out;   ///< that look like lamp model files, or like folders, and are not read
};

/// Lamp model files of a folder and those below it. Hidden ones are passed over, links are not followed. Throws
/// Error{input_refused} where it cannot be read, or holds none.
FolderContent lamp_files_in(const std::string& folder);

/// A lamp on its way into a folder.
struct FolderLamp {
  std::string stored_name;  ///< in the library; its file is named after it
  SharedLamp lamp;
};

enum class Written { fresh, changed, unchanged };
const char* word_for(Written written);

/// A file of a lamp that the library does not hold (any more).
struct GoneFile {
  std::string file;
  std::string lamp;
  bool removed = false;
};

struct FolderShare {
  std::vector<std::string> files;  ///< of each lamp, in their order
  std::vector<Written> written;
  std::vector<GoneFile> gone;
};

/// A file each. A file that says the same already is not touched; one of somebody else is never written over: then
/// Error{input_refused} is thrown, and nothing was written. `terms` are those of the lamps: files that they show to be
/// one's own (signed with the same key, or not signed and with the same contributor) are removed on `remove_gone` where
/// no lamp is theirs any more. `others`: further lamps of the library, whose files are none of the gone ones; empty
/// where the lamps are not meant to be the whole library.
FolderShare share_to_folder(const std::string& folder, const std::vector<FolderLamp>& lamps, const SharingTerms& terms,
                            const std::optional<std::vector<std::string>>& others, bool remove_gone);

/// Throws Error{input_refused} where `file` is a lamp model file that holds a record of somebody else which is not
/// among `lamps`: signed with a key that is neither one of theirs nor one's own, or not signed and of a contributor
/// that none of them names.
void refuse_to_lose(const std::string& file, std::span<const SharedLamp> lamps);

}  // namespace lampload
