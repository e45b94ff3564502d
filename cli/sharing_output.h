#pragma once
// What share, receive and keys print, to other programs and to people.

#include <optional>
#include <string>
#include <vector>

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

std::string signer_key_json(const SignerKey& key);
std::string signer_keys_json(const std::vector<SignerKey>& keys, const std::vector<KeyFile>& own);
struct SharedNote {
  SharedLamp lamp;
  bool as_received = false;
};
std::string share_json(const std::string& file, const std::vector<SharedNote>& lamps);
std::string receive_json(const std::vector<FileReceipt>& files, bool dry_run, const std::vector<SignerKey>& keys);
void show_receipts(Screen& screen, const std::vector<FileReceipt>& files, bool dry_run,
                   const std::vector<SignerKey>& keys);

/// By the keys of the library.
Trust trust_in(const SharedLamp& lamp, const std::vector<SignerKey>& keys);

}  // namespace lampload
