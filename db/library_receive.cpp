// Lamps of model files into the library: what each meets there, and what is done then. Nothing is overwritten.

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/error.h"
#include "db/admission.h"
#include "db/lamp_file.h"
#include "db/library_impl.h"
#include "db/received_rows.h"
#include "db/schema.h"
#include "db/statement.h"

namespace lampload {
namespace {

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

rows::Incoming incoming(const SharedLamp& lamp) {
  return {lamp.lamp.name, lamp.content_digest, lamp.digest, lamp.file, lamp.signer, lamp.with_samples};
}

const rows::Admission::Rules of_files = {.mark = "received", .of_library = false};

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

std::vector<Receipt> Library::receipts(std::span<const SharedLamp> lamps, OnConflict on_conflict,
                                       const std::string& time_utc) const {
  return schema::guarded(impl_->path, [&] {
    check_signers(impl_->db, lamps);
    rows::Admission admission(impl_->db, impl_->path, time_utc, of_files);
    std::vector<Receipt> list;
    for (const SharedLamp& lamp : lamps) list.push_back(admission.admit(incoming(lamp), on_conflict).receipt);
    return list;
  });
}

std::vector<Receipt> Library::receive(std::span<const SharedLamp> lamps, OnConflict on_conflict,
                                      const Provenance& provenance) {
  SQLite::Database& db = impl_->db;
  return schema::guarded(impl_->path, [&] {
    SQLite::Transaction transaction(db, SQLite::TransactionBehavior::IMMEDIATE);
    check_signers(db, lamps);
    rows::Admission admission(db, impl_->path, provenance.time_utc, of_files);
    std::vector<rows::Admitted> all;
    for (const SharedLamp& lamp : lamps) all.push_back(admission.admit(incoming(lamp), on_conflict));
    std::vector<Receipt> list;
    for (std::size_t i = 0; i < lamps.size(); ++i) {
      const Receipt& receipt = list.emplace_back(all[i].receipt);
      if (receipt.outcome == Receipt::Outcome::unchanged || receipt.outcome == Receipt::Outcome::kept) continue;
      std::optional<std::int64_t> aside;
      if (!all[i].aside_from.empty()) aside = rows::set_aside(db, all[i], provenance.time_utc);
      put_into(db, lamps[i], receipt.stored_as, provenance);
      if (aside) rows::link_successor(db, *aside, receipt.stored_as);
    }
    transaction.commit();
    return list;
  });
}

std::set<std::string> Library::received_digests() const {
  return schema::guarded(impl_->path, [&] {
    SQLite::Statement select(impl_->db, "SELECT digest FROM received_lamps");
    std::set<std::string> digests;
    while (select.executeStep()) digests.insert(select.getColumn(0).getString());
    return digests;
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
