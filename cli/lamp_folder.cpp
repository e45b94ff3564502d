#include "cli/lamp_folder.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>
#include <span>
#include <system_error>

#include "cli/output_file.h"
#include "cli/report/catalogue.h"
#include "core/error.h"
#include "db/key_files.h"

namespace lampload {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void refuse(const fs::path& place, const std::string& message, const std::string& remedy) {
  throw Error(ErrorCode::input_refused, message, Place{.file = place.string()}, remedy);
}

bool hidden(const fs::path& path) { return path.filename().string().starts_with('.'); }

bool named_as_lamp_file(const fs::path& path) { return path.filename().string().ends_with(lamp_file_ending); }

void look_into(const fs::path& folder, FolderContent& content) {
  std::error_code failure;
  std::vector<fs::directory_entry> entries;
  for (auto entry = fs::directory_iterator(folder, failure); !failure && entry != fs::directory_iterator();
       entry.increment(failure)) {
    entries.push_back(*entry);
  }
  if (failure) refuse(folder, "the folder cannot be read: " + failure.message(), "Check its permissions");
  std::sort(entries.begin(), entries.end());
  for (const fs::directory_entry& entry : entries) {
    const fs::path& path = entry.path();
    if (hidden(path)) continue;
    const fs::file_type type = entry.symlink_status(failure).type();
    if (type == fs::file_type::symlink) {
      // Where it leads to is not in the folder, or is read there.
      if (named_as_lamp_file(path) || fs::is_directory(path, failure)) {
        content.left_out.push_back({path.string(), "is a link; links are not followed"});
      }
    } else if (type == fs::file_type::directory) {
      look_into(path, content);
    } else if (named_as_lamp_file(path)) {
      if (type == fs::file_type::regular) {
        content.files.push_back(path.string());
      } else {
        content.left_out.push_back({path.string(), "is no file"});
      }
    }
  }
}

/// The one lamp of a file; nothing where it is no lamp model file, or of several.
std::optional<SharedLamp> only_lamp(const fs::path& path) {
  try {
    std::vector<SharedLamp> lamps = read_lamp_file(path.string());
    if (lamps.size() == 1) return std::move(lamps.front());
  } catch (const Error& error) {
    if (error.code() != ErrorCode::input_refused) throw;
  }
  return std::nullopt;
}

bool says_already(const fs::path& path, const std::string& text) {
  if (!fs::is_regular_file(fs::symlink_status(path)) || fs::file_size(path) != text.size()) return false;
  std::ifstream file(path, std::ios::binary);
  return std::equal(text.begin(), text.end(), std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>());
}

/// Was the lamp of the file written by whoever writes `now`?
bool by_the_same(const SharedLamp& there, const SharedLamp& now) {
  if (!there.signer.empty()) return there.signer == now.signer;
  return there.contributor.empty() || there.contributor == now.contributor;
}

void check_ours(const fs::path& path, const SharedLamp& now) {
  const std::string remedy =
      "Take it into the library first ('lampload receive'), move it away, or name another folder";
  if (!fs::is_regular_file(fs::symlink_status(path))) refuse(path, "is no file", "Name another folder");
  const std::optional<SharedLamp> there = only_lamp(path);
  if (!there) refuse(path, "holds something else than one lamp, and was left alone", remedy);
  if (by_the_same(*there, now)) return;
  refuse(path,
         fmt::format("holds a lamp {}, which would be lost; nothing was written",
                     there->signer.empty() ? fmt::format("of '{}'", there->contributor)
                                           : fmt::format("signed with key {}...", in_short(there->signer))),
         remedy);
}

bool shown_own(const SharedLamp& lamp, const SharingTerms& terms) {
  if (!lamp.signer.empty()) return terms.key && terms.key->public_key() == lamp.signer;
  return !terms.contributor.empty() && lamp.contributor == terms.contributor;
}

/// Files that are named after the lamp they hold, as those written here are, and belong to none of `kept`.
std::vector<GoneFile> gone_from(const fs::path& folder, const std::set<std::string>& kept, const SharingTerms& terms,
                                bool remove) {
  std::vector<GoneFile> gone;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    const fs::path& path = entry.path();
    if (hidden(path) || !named_as_lamp_file(path) || !fs::is_regular_file(entry.symlink_status())) continue;
    if (kept.contains(path.filename().string())) continue;
    const std::optional<SharedLamp> lamp = only_lamp(path);
    if (!lamp || path.filename().string() != file_name_of(lamp->lamp.name) + lamp_file_ending) continue;
    GoneFile& one = gone.emplace_back(GoneFile{path.string(), lamp->lamp.name, false});
    std::error_code failure;
    if (remove && shown_own(*lamp, terms)) one.removed = fs::remove(path, failure);
  }
  std::sort(gone.begin(), gone.end(), [](const GoneFile& a, const GoneFile& b) { return a.file < b.file; });
  return gone;
}

}  // namespace

const char* word_for(Written written) {
  return written == Written::fresh ? "new" : written == Written::changed ? "changed" : "unchanged";
}

FolderContent lamp_files_in(const std::string& folder) {
  FolderContent content;
  look_into(folder, content);
  if (content.files.empty()) {
    refuse(folder, fmt::format("the folder holds no lamp model files, whose names end in {}", lamp_file_ending),
           "Name another folder, or the files one by one");
  }
  return content;
}

void refuse_to_lose(const std::string& file, std::span<const SharedLamp> lamps) {
  std::error_code none;
  if (!fs::is_regular_file(file, none)) return;
  std::vector<SharedLamp> there;
  try {
    there = read_lamp_file(file);
  } catch (const Error& error) {
    if (error.code() != ErrorCode::input_refused) throw;
    return;  // something else, which whoever named it may replace
  }
  std::set<std::string> own;
  for (const KeyFile& key : key_files()) own.insert(key.public_key);
  for (const SharedLamp& one : there) {
    const bool kept = own.contains(one.signer) || std::any_of(lamps.begin(), lamps.end(), [&](const SharedLamp& now) {
                        return now.digest == one.digest || by_the_same(one, now);
                      });
    if (kept) continue;
    refuse(file,
           fmt::format("holds '{}', {}, which would be lost; nothing was written", one.lamp.name,
                       one.signer.empty() ? fmt::format("a lamp of '{}'", one.contributor)
                                          : fmt::format("signed with key {}...", in_short(one.signer))),
           "Take it into the library first ('lampload receive') and move it away, or name another file");
  }
}

FolderShare share_to_folder(const std::string& folder, const std::vector<FolderLamp>& lamps, const SharingTerms& terms,
                            const std::optional<std::vector<std::string>>& others, bool remove_gone) {
  const fs::path place(folder);
  std::error_code failure;
  if (fs::exists(place) && !fs::is_directory(place)) refuse(place, "it is a file", "Name a folder");
  fs::create_directories(place, failure);
  if (failure) refuse(place, "the folder could not be made", "Name one in a place that may be written to");
  FolderShare share;
  std::set<std::string> kept;
  std::vector<std::string> texts;
  // All is looked at before anything is written.
  for (const FolderLamp& one : lamps) {
    const std::string name = file_name_of(one.stored_name) + lamp_file_ending;
    const fs::path path = place / name;
    kept.insert(name);
    share.files.push_back(path.string());
    texts.push_back(lamp_file_text(std::span(&one.lamp, 1)));
    (void)parse_lamp_file(texts.back(), path.string());  // as whoever receives it will
    if (!fs::exists(fs::symlink_status(path))) {
      share.written.push_back(Written::fresh);
    } else if (says_already(path, texts.back())) {
      share.written.push_back(Written::unchanged);
    } else {
      check_ours(path, one.lamp);
      share.written.push_back(Written::changed);
    }
  }
  for (std::size_t i = 0; i < lamps.size(); ++i) {
    if (share.written[i] != Written::unchanged) write_output(share.files[i], texts[i]);
  }
  if (!others) return share;
  for (const std::string& name : *others) kept.insert(file_name_of(name) + lamp_file_ending);
  share.gone = gone_from(place, kept, terms, remove_gone);
  return share;
}

}  // namespace lampload
