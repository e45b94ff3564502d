#include "cli/sharing_output.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "cli/basis.h"
#include "cli/json_text.h"
#include "cli/quantity.h"

namespace lampload {
namespace {

using Json = nlohmann::ordered_json;
using Outcome = Receipt::Outcome;

Json json_of(const SignerKey& key) {
  return {{"name", key.name},
          {"public_key", key.public_key},
          {"state", key.accepted ? "accepted" : "revoked"},
          {"reason", known(key.reason)},
          {"time_utc", known(key.time_utc)}};
}

/// new, unchanged, differing
std::array<int, 3> counts(const std::vector<FileReceipt>& files) {
  std::array<int, 3> counted{};
  for (const FileReceipt& file : files) {
    for (const Receipt& one : file.receipts) {
      ++counted.at(one.outcome == Outcome::added ? 0 : one.outcome == Outcome::unchanged ? 1 : 2);
    }
  }
  return counted;
}

int refused(const std::vector<FileReceipt>& files) {
  return static_cast<int>(
      std::count_if(files.begin(), files.end(), [](const FileReceipt& one) { return one.refused.has_value(); }));
}

std::string in_words(const Difference& one) {
  return fmt::format("{}: {} is {} in the file, {} by its own figures", one.lamp, one.what,
                     quantity(one.stated, one.unit, 4), quantity(one.found, one.unit, 4));
}

}  // namespace

const char* outcome_name(const Receipt& receipt) {
  return receipt.outcome == Outcome::added ? "new" : receipt.outcome == Outcome::unchanged ? "unchanged" : "differing";
}

const char* outcome_in_words(const Receipt& receipt) {
  switch (receipt.outcome) {
    case Outcome::added:
      return "new";
    case Outcome::unchanged:
      return "unchanged";
    case Outcome::kept:
      return "differing: kept what is stored";
    case Outcome::replaced:
      return "differing: took its place";
    case Outcome::added_beside:
      return "differing: stored beside it";
  }
  return "";
}

Trust trust_in(const SharedLamp& lamp, const std::vector<SignerKey>& keys) {
  if (lamp.signer.empty()) return Trust::unsigned_record;
  for (const SignerKey& key : keys) {
    if (key.public_key == lamp.signer) return key.accepted ? Trust::accepted_signer : Trust::revoked_signer;
  }
  return Trust::unknown_signer;
}

std::string signer_key_json(const SignerKey& key) { return document_text({{"key", json_of(key)}}); }

std::string signer_keys_json(const std::vector<SignerKey>& keys, const std::vector<KeyFile>& own) {
  Json list = Json::array();
  for (const SignerKey& key : keys) list.push_back(json_of(key));
  Json files = Json::array();
  for (const KeyFile& one : own) files.push_back({{"name", one.name}, {"public_key", one.public_key}});
  return document_text({{"keys", std::move(list)}, {"own", std::move(files)}});
}

namespace {

Json json_of(const SharedNote& one) {
  return {{"lamp", one.lamp.lamp.name},
          {"digest", one.lamp.digest},
          {"content_digest", one.lamp.content_digest},
          {"signer", known(one.lamp.signer)},
          {"licence", known(one.lamp.licence)},
          {"with_samples", one.lamp.with_samples},
          {"as_received", one.as_received}};
}

}  // namespace

std::string share_json(const std::string& file, const std::vector<SharedNote>& lamps) {
  Json list = Json::array();
  for (const SharedNote& one : lamps) list.push_back(json_of(one));
  return document_text({{"file", file}, {"lamps", std::move(list)}});
}

std::string share_folder_json(const std::string& folder, const std::vector<SharedNote>& lamps, const FolderShare& done,
                              const std::vector<NotShared>& left_out) {
  Json list = Json::array();
  for (std::size_t i = 0; i < lamps.size(); ++i) {
    Json one = json_of(lamps[i]);
    one["file"] = done.files[i];
    one["written"] = word_for(done.written[i]);
    list.push_back(std::move(one));
  }
  Json gone = Json::array();
  for (const GoneFile& one : done.gone) {
    gone.push_back({{"file", one.file}, {"lamp", one.lamp}, {"removed", one.removed}});
  }
  Json others = Json::array();
  for (const NotShared& one : left_out) others.push_back({{"lamp", one.lamp}, {"why", one.why}});
  return document_text(
      {{"folder", folder}, {"lamps", std::move(list)}, {"gone", std::move(gone)}, {"left_out", std::move(others)}});
}

std::string receive_json(const Reception& reception) {
  const auto& [files, left_out, keys, dry_run] = reception;
  Json list = Json::array();
  for (const FileReceipt& file : files) {
    Json error = nullptr;
    if (file.refused) {
      const Place& place = file.refused->place();
      error = {{"message", file.refused->message()},
               {"line", place.line ? Json(*place.line) : Json(nullptr)},
               {"column", known(place.column)},
               {"key", known(place.key)},
               {"remedy", known(file.refused->remedy())}};
    }
    Json lamps = Json::array();
    for (std::size_t i = 0; i < file.receipts.size(); ++i) {
      const Receipt& one = file.receipts[i];
      const SharedLamp& lamp = file.lamps[i];
      lamps.push_back({{"lamp", one.name},
                       {"outcome", outcome_name(one)},
                       {"stored_as", known(one.stored_as)},
                       {"remark", known(one.remark)},
                       {"trust", trust_name(trust_in(lamp, keys))},
                       {"signer", known(lamp.signer)},
                       {"digest", lamp.digest},
                       {"content_digest", lamp.content_digest},
                       {"licence", known(lamp.licence)},
                       {"with_samples", lamp.with_samples}});
    }
    Json differences = Json::array();
    for (const Difference& one : file.differences) {
      differences.push_back(
          {{"lamp", one.lamp}, {"what", one.what}, {"stated", one.stated}, {"found", one.found}, {"unit", one.unit}});
    }
    list.push_back({{"file", file.file},
                    {"refused", std::move(error)},
                    {"lamps", std::move(lamps)},
                    {"differences", std::move(differences)}});
  }
  Json passed_over = Json::array();
  for (const LeftOut& one : left_out) passed_over.push_back({{"file", one.file}, {"why", one.why}});
  const auto [fresh, unchanged, differing] = counts(files);
  return document_text(
      {{"dry_run", dry_run},
       {"files", std::move(list)},
       {"summary", {{"new", fresh}, {"unchanged", unchanged}, {"differing", differing}, {"refused", refused(files)}}},
       {"left_out", std::move(passed_over)}});
}

void show_receipts(Screen& screen, const Reception& reception) {
  const auto& [files, left_out, keys, dry_run] = reception;
  const auto [fresh, unchanged, differing] = counts(files);
  const int bad = refused(files);
  screen.line(fmt::format("{}{} new, {} unchanged, {} differing, {} refused", dry_run ? "(dry run) " : "", fresh,
                          unchanged, differing, counted(bad, "file")),
              bad > 0 ? Style::bad : Style::good);
  Table table({"lamp", "in the library", "stored as", "source", "licence"});
  for (const FileReceipt& file : files) {
    for (std::size_t i = 0; i < file.receipts.size(); ++i) {
      const Receipt& one = file.receipts[i];
      const std::string licence = file.lamps[i].licence;
      table.add({one.name, outcome_in_words(one), one.stored_as.empty() ? "-" : one.stored_as,
                 trust_in_words(trust_in(file.lamps[i], keys)), licence.empty() ? "not said" : licence});
    }
  }
  if (!table.empty()) screen.table(table, 2);
  for (const FileReceipt& file : files) {
    if (file.refused) screen.paragraph(std::string("refused: ") + file.refused->what(), 2, Style::bad);
    for (const Receipt& one : file.receipts) {
      if (!one.remark.empty()) screen.paragraph(fmt::format("{}: {}", one.name, one.remark), 2);
    }
    for (const Difference& one : file.differences) screen.paragraph(in_words(one), 2, Style::warning);
  }
  for (const LeftOut& one : left_out) screen.paragraph(fmt::format("left out: {} {}", one.file, one.why), 2);
  if (bad > 0) screen.paragraph("Nothing was stored: one refused file holds back all.", 2, Style::bad);
}

}  // namespace lampload
