#pragma once
// Keys that sign, one file each, in a folder beside the default library that only their owner can read.

#include <string>
#include <vector>

#include "db/signature.h"

namespace lampload {

struct KeyFile {
  std::string name;
  std::string public_key;
};

/// Where they lie.
std::string key_folder();
/// The names a key may have: 1 to 64 letters, digits, '-' and '_', so that none leads out of the folder. What is wrong
/// with one; empty: nothing.
std::string fault_of_key_name(const std::string& name);

/// Throws Error{input_refused} where a key of this name is there already; Error{library} where it cannot be written.
KeyFile make_key_file(const std::string& name);
/// Of a key that was just made, and that nothing came of.
void take_back_key_file(const std::string& name);
/// Throws Error{not_found}; Error{input_refused} where others than its owner may read it, or it is no key file.
SecretKey read_key_file(const std::string& name);
/// By name.
std::vector<KeyFile> key_files();

}  // namespace lampload
