// Lamps of model files into the library: what each meets there, and what is done then. Nothing is overwritten.

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/error.h"
#include "db/lamp_file.h"
#include "db/library_impl.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"

namespace lampload {
namespace {

constexpr std::size_t longest_name = 200;

bool is_stored(SQLite::Database& db, const std::string& name) {
  SQLite::Statement select(db, "SELECT 1 FROM lamp_types WHERE name = ?");
  Bind{select}(name);
  return select.executeStep();
}

/// `name` with something behind it, not taken and not too long.
std::string free_name(SQLite::Database& db, const std::string& name, const std::string& mark) {
  for (int i = 1;; ++i) {
    const std::string end = i == 1 ? fmt::format(" ({})", mark) : fmt::format(" ({}, {})", mark, i);
    std::string start = name.substr(0, longest_name - end.size());
    // Not in the middle of a character.
    while (start.size() < name.size() && (static_cast<unsigned char>(name[start.size()]) & 0xC0U) == 0x80U) {
      start.pop_back();
    }
    if (!is_stored(db, start + end)) return start + end;
  }
}

void check_signers(SQLite::Database& db, std::span<const SharedLamp> lamps) {
  const std::vector<SignerKey> keys = rows::signer_keys(db);
  for (const SharedLamp& one : lamps) {
    for (const SignerKey& key : keys) {
      if (one.signer != key.public_key || key.accepted) continue;
      throw Error(ErrorCode::input_refused,
                  fmt::format("'{}' is signed with the key of '{}', which was revoked here on {}{}{}", one.lamp.name,
                              key.name, key.time_utc, key.reason.empty() ? "" : ": ", key.reason),
                  {}, "Ask for a file signed with another key; or accept this one again, if it was revoked by mistake");
    }
  }
}

/// The same model as the lamp made here has?
bool same_content(const LampRecord& stored, const SharedLamp& lamp) {
  try {
    return shared_lamp(stored, {}).content_digest == lamp.content_digest;
  } catch (const Error&) {
    return false;  // it could not be shared, so nobody has it
  }
}

Receipt judged(SQLite::Database& db, const std::string& path, const SharedLamp& lamp, OnConflict on_conflict) {
  using Outcome = Receipt::Outcome;
  Receipt receipt{.name = lamp.lamp.name, .stored_as = lamp.lamp.name, .outcome = Outcome::added, .remark = {}};
  if (const auto same = rows::received_content(db, lamp.content_digest)) {
    receipt.stored_as = same->name;
    receipt.outcome = Outcome::unchanged;
    if (same->digest == lamp.digest) return receipt;
    // Only what stands around the content differs: name, licence, signature, samples of the captures.
    if (on_conflict != OnConflict::replace) {
      receipt.remark = fmt::format("stored as '{}'; name, notes, licence, signature or samples differ", same->name);
      return receipt;
    }
    const bool taken = same->name != lamp.lamp.name && is_stored(db, lamp.lamp.name);
    receipt.stored_as = taken ? free_name(db, lamp.lamp.name, "received") : lamp.lamp.name;
    receipt.outcome = Outcome::replaced;
    receipt.remark = "the same content, with another name, notes, licence, signature or samples";
    return receipt;
  }
  if (!is_stored(db, lamp.lamp.name)) return receipt;
  if (same_content(rows::read_lamp(db, path, lamp.lamp.name, false), lamp)) {
    receipt.outcome = Outcome::unchanged;
    receipt.remark = "it was made here";
    return receipt;
  }
  receipt.remark = "another lamp of this name is stored";
  switch (on_conflict) {
    case OnConflict::keep:
      receipt.outcome = Outcome::kept;
      receipt.stored_as.clear();
      break;
    case OnConflict::replace:
      receipt.outcome = Outcome::replaced;
      break;
    case OnConflict::add:
      receipt.outcome = Outcome::added_beside;
      receipt.stored_as = free_name(db, lamp.lamp.name, "received");
      break;
  }
  return receipt;
}

/// The lamp that is replaced stays, under a name that says until when it was the one.
std::int64_t set_aside(SQLite::Database& db, const std::string& name, const std::string& time_utc) {
  SQLite::Statement rename(db, "UPDATE lamp_types SET name = ?, superseded_utc = ? WHERE name = ? RETURNING id");
  Bind{rename}(free_name(db, name, "until " + time_utc.substr(0, 10)))(time_utc)(name);
  rename.executeStep();
  const std::int64_t id = rename.getColumn(0).getInt64();
  while (rename.executeStep()) {
  }
  return id;
}

void put_into(SQLite::Database& db, const SharedLamp& lamp, const std::string& name, const Provenance& provenance) {
  std::vector<StoredCapture> captures = lamp.lamp.captures;
  for (StoredCapture& capture : captures) {
    capture.received = true;
    capture.figures_only = capture.capture.voltage_v.empty();
  }
  std::int64_t lamp_type = rows::store_lamp(db, name, lamp.lamp.nominal, captures, std::nullopt);
  SQLite::Statement notes(db, "UPDATE lamp_types SET notes = ? WHERE id = ?");
  Bind{notes}(lamp.lamp.notes)(lamp_type);
  notes.exec();
  if (lamp.lamp.fit) {
    // The places in the file's list become the rows that its captures have now.
    std::vector<std::int64_t> ids;
    SQLite::Statement select(db, "SELECT id FROM captures WHERE lamp_type_id = ? ORDER BY id");
    Bind{select}(lamp_type);
    while (select.executeStep()) ids.push_back(select.getColumn(0).getInt64());
    const auto placed = [&](StoredFit& fit) {
      for (std::int64_t& place : fit.capture_ids) place = ids.at(static_cast<std::size_t>(place) - 1);
    };
    StoredFit fit = *lamp.lamp.fit;
    placed(fit);
    for (StoredFit& sample : fit.samples) placed(sample);
    lamp_type = rows::store_lamp(db, name, {}, {}, fit);
  }
  rows::store_received(db, lamp_type, lamp, provenance);
  rows::refresh_lamp(db, lamp_type);
}

}  // namespace

std::vector<Receipt> Library::receipts(std::span<const SharedLamp> lamps, OnConflict on_conflict) const {
  return schema::guarded(impl_->path, [&] {
    check_signers(impl_->db, lamps);
    std::vector<Receipt> list;
    for (const SharedLamp& lamp : lamps) list.push_back(judged(impl_->db, impl_->path, lamp, on_conflict));
    return list;
  });
}

std::vector<Receipt> Library::receive(std::span<const SharedLamp> lamps, OnConflict on_conflict,
                                      const Provenance& provenance) {
  SQLite::Database& db = impl_->db;
  return schema::guarded(impl_->path, [&] {
    SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
    check_signers(db, lamps);
    std::vector<Receipt> list;
    for (const SharedLamp& lamp : lamps) {
      const Receipt& receipt = list.emplace_back(judged(db, impl_->path, lamp, on_conflict));
      if (receipt.outcome == Receipt::Outcome::unchanged || receipt.outcome == Receipt::Outcome::kept) continue;
      std::optional<std::int64_t> aside;
      if (receipt.outcome == Receipt::Outcome::replaced) {
        const auto same = rows::received_content(db, lamp.content_digest);
        aside = set_aside(db, same ? same->name : lamp.lamp.name, provenance.time_utc);
      }
      put_into(db, lamp, receipt.stored_as, provenance);
      if (!aside) continue;
      SQLite::Statement link(
          db, "UPDATE lamp_types SET superseded_by = (SELECT id FROM lamp_types WHERE name = ?) WHERE id = ?");
      Bind{link}(receipt.stored_as)(*aside);
      link.exec();
    }
    transaction.commit();
    return list;
  });
}

std::string Library::received_record(const std::string& lamp, bool even_if_changed) const {
  return schema::guarded(impl_->path, [&] {
    SQLite::Statement select(impl_->db, "SELECT id FROM lamp_types WHERE name = ?");
    Bind{select}(lamp);
    return select.executeStep() ? rows::received_record(impl_->db, select.getColumn(0).getInt64(), even_if_changed)
                                : std::string();
  });
}

std::vector<SignerKey> Library::signer_keys() const {
  return schema::guarded(impl_->path, [&] { return rows::signer_keys(impl_->db); });
}

void Library::store_signer_key(const SignerKey& key) {
  schema::guarded(impl_->path, [&] { rows::store_signer_key(impl_->db, key); });
}

}  // namespace lampload
