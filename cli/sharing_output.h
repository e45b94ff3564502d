#pragma once
// What share, receive and keys print, to other programs and to people.

#include <optional>
#include <string>
#include <vector>

#include "cli/lamp_folder.h"
#include "cli/terminal.h"
#include "core/error.h"
#include "db/key_files.h"
#include "db/lamp_file.h"
#include "db/library.h"

namespace lampload {

/// Something a file says of a lamp that its own figures, or its captures, do not bear out.
struct Difference {
  std::string lamp;
  std::string what;
  double stated = 0.0;
  double found = 0.0;
  std::string unit;
};

/// What became of a file.
struct FileReceipt {
  std::string file;
  std::optional<Error> refused;
  std::vector<SharedLamp> lamps;
  std::vector<Receipt> receipts;
  std::vector<Difference> differences;
};

/// "new", "unchanged", "differing": read by other programs.
const char* outcome_name(const Receipt& receipt);
/// "new", "differing: kept what is stored", ...
const char* outcome_in_words(const Receipt& receipt);

std::string signer_key_json(const SignerKey& key);
std::string signer_keys_json(const std::vector<SignerKey>& keys, const std::vector<KeyFile>& own);
struct SharedNote {
  SharedLamp lamp;
  bool as_received = false;
  bool other_label = false;             ///< what the label says was changed here since it was received
  bool without_asked_samples = false;   ///< they were asked for, but are not all here
  std::optional<Origin> received = {};  ///< where some of it came in a lamp model file, and some was made here
  std::string revoked = {};             ///< caution of a lamp whose signer was revoked; else empty
};
/// A lamp that cannot be written into a file, and why.
struct NotShared {
  std::string lamp;
  std::string why;
};
std::string share_json(const std::string& file, const std::vector<SharedNote>& lamps);
std::string share_folder_json(const std::string& folder, const std::vector<SharedNote>& lamps, const FolderShare& done,
                              const std::vector<NotShared>& left_out);
/// What came of files, and what in folders was passed over.
struct Reception {
  std::vector<FileReceipt> files;
  std::vector<LeftOut> left_out;
  std::vector<SignerKey> keys;  ///< of the library
  bool dry_run = false;
};
std::string receive_json(const Reception& reception);
void show_receipts(Screen& screen, const Reception& reception);

/// By the keys of the library.
Trust trust_in(const SharedLamp& lamp, const std::vector<SignerKey>& keys);

}  // namespace lampload
