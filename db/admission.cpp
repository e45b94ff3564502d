#include "db/admission.h"

#include <fmt/format.h>

#include <utility>
#include <vector>

#include "core/error.h"
#include "db/free_name.h"
#include "db/lamp_file.h"
#include "db/lamp_rows.h"
#include "db/library_impl.h"
#include "db/received_rows.h"
#include "db/statement.h"

namespace lampload::rows {
namespace {

using Outcome = Receipt::Outcome;

/// The name that another one was made of by putting a mark behind it; empty: of none.
std::string unmarked(const std::string& name) {
  const auto mark = name.rfind(" (");
  return name.ends_with(')') && mark != std::string::npos ? name.substr(0, mark) : "";
}

}  // namespace

Admission::Admission(SQLite::Database& db, std::string path, std::string time_utc, Rules rules)
    : db_(db),
      path_(std::move(path)),
      time_utc_(std::move(time_utc)),
      rules_(std::move(rules)),
      holds_received_(db.execAndGet("SELECT EXISTS (SELECT 1 FROM received_lamps)").getInt() != 0) {}

bool Admission::taken(const std::string& name) {
  if (put_.contains(name)) return true;
  if (gone_.contains(name)) return false;
  SQLite::Statement select(db_, "SELECT 1 FROM lamp_types WHERE name = ?");
  Bind{select}(name);
  return select.executeStep();
}

std::string Admission::free_name(const std::string& name, const std::string& mark) {
  return lampload::free_name(name, mark, [this](const std::string& other) { return taken(other); });
}

std::optional<Admission::Same> Admission::received_same(const std::string& content) {
  if (const auto found = contents_.find(content); found != contents_.end()) return found->second;
  for (const StoredContent& one : received_contents(db_, content)) {
    if (!gone_.contains(one.name)) return Same{one.name, one.digest, one.signer, one.revoked, one.lacks_samples};
  }
  return std::nullopt;
}

bool Admission::has_content(const std::string& name, const std::string& content) {
  const auto held = put_.find(name);
  if (held != put_.end() && held->second.stored_name.empty()) return held->second.content == content;
  return content_of(db_, path_, held != put_.end() ? held->second.stored_name : name) == content;
}

void Admission::set_aside(Admitted& admitted, const std::string& name) {
  admitted.aside_from = name;
  admitted.aside_to = free_name(name, "until " + time_utc_.substr(0, 10));
  Held held{name, "", ""};
  if (const auto found = put_.find(name); found != put_.end()) {
    held = found->second;
    put_.erase(found);
  } else {
    gone_.insert(name);
  }
  contents_.erase(held.content);
  put_[admitted.aside_to] = held;
}

void Admission::put(const std::string& name, const Incoming& lamp) {
  put_[name] = {"", lamp.content, lamp.file};
  if (!rules_.of_library) contents_[lamp.content] = {name, lamp.digest, lamp.signer, false, !lamp.with_samples};
}

Admitted Admission::admit(const Incoming& lamp, OnConflict on_conflict) {
  Admitted admitted{.receipt = {.name = lamp.name, .stored_as = lamp.name, .outcome = Outcome::added, .remark = {}}};
  Receipt& receipt = admitted.receipt;
  if (const auto same = received_same(lamp.content)) {
    receipt.stored_as = same->name;
    receipt.outcome = Outcome::unchanged;
    if (same->digest == lamp.digest || rules_.of_library) return admitted;
    // Only what stands around the content differs: name, licence, signature, samples of the captures.
    if (on_conflict != OnConflict::replace) {
      receipt.remark =
          fmt::format("stored as '{}'; {}. '--on-conflict replace' takes the file's in its place", same->name,
                      same->revoked && lamp.signer != same->signer ? "the key that signed what is stored was revoked"
                      : same->lacks_samples && lamp.with_samples   ? "its captures lack the samples that this file has"
                                                                 : "name, notes, licence, signature or samples differ");
      return admitted;
    }
    receipt.outcome = Outcome::replaced;
    receipt.remark = "the same content, with another name, notes, licence, signature or samples";
    set_aside(admitted, same->name);
    receipt.stored_as = taken(lamp.name) ? free_name(lamp.name, rules_.mark) : lamp.name;
    put(receipt.stored_as, lamp);
    return admitted;
  }
  if (const std::string stored = same_stored(lamp); !stored.empty()) {
    receipt.outcome = Outcome::unchanged;
    receipt.stored_as = stored;
    if (!rules_.of_library) receipt.remark = "it was made here";
    return admitted;
  }
  if (!taken(lamp.name)) {
    put(lamp.name, lamp);
    return admitted;
  }
  const auto held = put_.find(lamp.name);
  const bool on_the_way = held != put_.end() && held->second.stored_name.empty();
  receipt.remark = !on_the_way ? "another lamp of this name is stored"
                   : held->second.file.empty()
                       ? "another lamp of this name comes in now"
                       : fmt::format("another lamp of this name comes with {}, in the same run", held->second.file);
  switch (on_conflict) {
    case OnConflict::keep:
      receipt.outcome = Outcome::kept;
      receipt.stored_as.clear();
      return admitted;
    case OnConflict::replace:
      receipt.outcome = Outcome::replaced;
      set_aside(admitted, lamp.name);
      break;
    case OnConflict::add:
      receipt.outcome = Outcome::added_beside;
      receipt.stored_as = free_name(lamp.name, rules_.mark);
      break;
  }
  put(receipt.stored_as, lamp);
  return admitted;
}

std::string Admission::admit_beside(const Incoming& lamp) {
  const std::string name = taken(lamp.name) ? free_name(lamp.name, rules_.mark) : lamp.name;
  put_[name] = {"", lamp.content, lamp.file};
  return name;
}

std::string Admission::same_stored(const Incoming& lamp) {
  if (taken(lamp.name) && has_content(lamp.name, lamp.content)) return lamp.name;
  if (!rules_.of_library) return "";
  if (const std::string same = same_beside(lamp.name, lamp.content); !same.empty()) return same;
  const std::string name = unmarked(lamp.name);
  if (name.empty()) return "";
  return taken(name) && has_content(name, lamp.content) ? name : same_beside(name, lamp.content);
}

std::vector<std::string> Admission::names_beside(const std::string& name_before) {
  std::vector<std::string> beside;
  const std::string start = name_before + " (";
  SQLite::Statement select(db_, "SELECT name FROM lamp_types WHERE name > ?1 AND name < ?2 ORDER BY id");
  Bind{select}(start)(name_before + " )");  // ')' comes right behind '('
  while (select.executeStep()) {
    std::string name = select.getColumn(0).getString();
    if (taken(name)) beside.push_back(std::move(name));
  }
  for (auto one = put_.lower_bound(start); one != put_.end() && one->first.starts_with(start); ++one) {
    beside.push_back(one->first);
  }
  return beside;
}

bool Admission::to_be_compared(const std::string& name) {
  const std::string before = unmarked(name);
  return holds_received_ || taken(name) || !names_beside(name).empty() ||
         (!before.empty() && (taken(before) || !names_beside(before).empty()));
}

std::string Admission::same_beside(const std::string& name_before, const std::string& content) {
  for (const std::string& name : names_beside(name_before)) {
    if (has_content(name, content)) return name;
  }
  return "";
}

std::string content_of(SQLite::Database& db, const std::string& path, const std::string& name) {
  const LampRecord lamp = read_lamp(db, path, name, false);
  try {
    return shared_lamp(lamp, {}).content_digest;
  } catch (const Error&) {
    return digest_of_rows(db, lamp.id);
  }
}

std::int64_t set_aside(SQLite::Database& db, const Admitted& admitted, const std::string& time_utc) {
  SQLite::Statement rename(db, "UPDATE lamp_types SET name = ?, superseded_utc = ? WHERE name = ? RETURNING id");
  Bind{rename}(admitted.aside_to)(time_utc)(admitted.aside_from);
  rename.executeStep();
  const std::int64_t id = rename.getColumn(0).getInt64();
  while (rename.executeStep()) {
  }
  return id;
}

void link_successor(SQLite::Database& db, std::int64_t aside, const std::string& name) {
  SQLite::Statement link(
      db, "UPDATE lamp_types SET superseded_by = (SELECT id FROM lamp_types WHERE name = ?) WHERE id = ?");
  Bind{link}(name)(aside);
  link.exec();
}

}  // namespace lampload::rows
