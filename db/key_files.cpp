#include "db/key_files.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <system_error>

#include "core/error.h"
#include "db/json_reader.h"
#include "db/library.h"

namespace lampload {
namespace {

namespace fs = std::filesystem;
constexpr std::string_view key_format = "lampload-key";
constexpr std::string_view ending = ".key";

Error unwritable(const std::string& path) {
  return {ErrorCode::library, "the key could not be written", Place{.file = path},
          "Check the permissions of the folder"};
}

std::string path_of(const std::string& name) {
  if (const std::string fault = fault_of_key_name(name); !fault.empty()) throw Error(ErrorCode::usage, fault);
  return (fs::path(key_folder()) / (name + std::string(ending))).string();
}

/// Whoever reads the file can sign in its owner's name.
void check_owner(const std::string& path) {
  struct stat state {};
  if (::lstat(path.c_str(), &state) != 0) {
    throw Error(ErrorCode::not_found, "there is no key of this name", Place{.file = path},
                "'lampload keys list' shows those there are; 'lampload keys make' makes one");
  }
  if (!S_ISREG(state.st_mode) || state.st_uid != ::geteuid()) {
    throw Error(ErrorCode::input_refused, "is not a file of your own", Place{.file = path}, "Make another key");
  }
  if ((state.st_mode & (S_IRWXG | S_IRWXO)) != 0) {
    throw Error(ErrorCode::input_refused, "may be read or written by others, so it is not used to sign",
                Place{.file = path},
                "If nobody can have copied it, take the permissions away with 'chmod 600'; else revoke this key and "
                "make another");
  }
}

json::Json document_of(const std::string& path) {
  const json::Json document = json::parse(json::read_file(path), path);
  const json::Object from(document, path, "");
  from.allow_only(std::array<std::string_view, 5>{"format", "format_version", "name", "public_key", "secret_key"});
  (void)from.choice("format", std::array{key_format});
  (void)from.choice("format_version", std::array<std::string_view, 1>{"1.0"});
  (void)from.text("name");
  (void)from.text("public_key");
  (void)from.text("secret_key");
  return document;
}

}  // namespace

std::string key_folder() { return (fs::path(Library::default_path()).parent_path() / "keys").string(); }

std::string fault_of_key_name(const std::string& name) {
  const bool plain = std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
  return plain && !name.empty() && name.size() <= 64
             ? ""
             : "the name of a key has 1 to 64 letters, digits, '-' or '_', and nothing else";
}

KeyFile make_key_file(const std::string& name) {
  const std::string path = path_of(name);
  std::error_code failure;
  fs::create_directories(fs::path(path).parent_path(), failure);
  if (!failure) fs::permissions(fs::path(path).parent_path(), fs::perms::owner_all, failure);
  if (failure) throw unwritable(path);
  const SecretKey key = SecretKey::make();
  const json::Json document = {{"format", key_format},
                               {"format_version", "1.0"},
                               {"name", name},
                               {"public_key", key.public_key()},
                               {"secret_key", key.seed_hex()}};
  const std::string text = document.dump(2) + "\n";
  // Nobody else may read it at any moment.
  const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, S_IRUSR | S_IWUSR);
  if (file < 0 && errno == EEXIST) {
    throw Error(ErrorCode::input_refused, "there is a key of this name already", Place{.file = path},
                "Give the new one another name; a key is never written over");
  }
  if (file < 0) throw unwritable(path);
  const bool whole = ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) && ::fsync(file) == 0;
  ::close(file);
  if (!whole) {
    fs::remove(path, failure);
    throw unwritable(path);
  }
  return {name, key.public_key()};
}

void take_back_key_file(const std::string& name) {
  std::error_code failure;
  fs::remove(path_of(name), failure);
}

SecretKey read_key_file(const std::string& name) {
  const std::string path = path_of(name);
  check_owner(path);
  const json::Json document = document_of(path);
  const SecretKey key(document.at("secret_key").get<std::string>());
  if (key.public_key() != document.at("public_key").get<std::string>()) {
    throw Error(ErrorCode::input_refused, "its public key does not belong to its secret key",
                Place{.file = path, .key = "public_key"}, "The file was changed; make another key");
  }
  return key;
}

std::vector<KeyFile> key_files() {
  std::vector<KeyFile> keys;
  std::error_code none;
  for (const auto& entry : fs::directory_iterator(key_folder(), none)) {
    const std::string name = entry.path().stem().string();
    if (entry.path().extension() != ending || !fault_of_key_name(name).empty()) continue;
    keys.push_back({name, document_of(entry.path().string()).at("public_key").get<std::string>()});
  }
  std::sort(keys.begin(), keys.end(), [](const KeyFile& a, const KeyFile& b) { return a.name < b.name; });
  return keys;
}

}  // namespace lampload
