#include "db/lamp_file.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>
#include <set>
#include <utility>

#include "core/error.h"
#include "core/lamp/label.h"
#include "db/canonical_json.h"
#include "db/digest.h"
#include "db/lamp_file_checks.h"
#include "db/lamp_file_json.h"
#include "db/lamp_file_shape.h"

namespace lampload {
namespace {

using json::Json;
using json::Object;

/// The record without what is made over it.
Json unsealed(Json record) {
  record.erase("digest");
  record.erase("signature");
  return record;
}

void check_seal(const Object& object, const std::string& message, SharedLamp& lamp) {
  lamp.digest = sha256_hex(message);
  if (object.text("digest") != lamp.digest) {
    object.refuse(
        "digest",
        fmt::format("the record was changed after it was written: its content gives {}...", in_short(lamp.digest)),
        "Ask for the file again where it comes from");
  }
  const Object contributor = object.object("contributor");
  if (!object.has("signature")) {
    if (contributor.has("public_key")) {
      contributor.refuse("public_key", "a key is named, but nothing is signed with it",
                         "Ask for the file again where it comes from");
    }
    return;
  }
  if (!contributor.has("public_key")) object.refuse("signature", "is there, but no contributor.public_key to it");
  lamp.signer = contributor.text("public_key");
  if (!signature_holds(lamp.signer, message, object.object("signature").text("value"))) {
    object.refuse("signature", "does not hold: the record is not what the holder of this key signed",
                  "Ask for the file again where it comes from");
  }
}

/// Keys of a later version than the one that the record says it keeps to.
void check_version(const Object& record) {
  const Object label = record.object("label");
  if (label.has("base")) {
    if (const std::string fault = fault_of_base(label.text("base")); !fault.empty()) label.refuse("base", fault);
  }
  if (record.text("record_version") != lamp_keys::versions[0]) return;
  for (const std::string_view key : lamp_keys::label_of_1_1) {
    if (label.has(key)) label.refuse(key, "is a key of version 1.1, but the record says that it keeps to 1.0");
  }
}

SharedLamp checked(const Object& object) {
  lamp_keys::check_shape(object, lamp_keys::lamp);
  check_version(object);
  SharedLamp shared;
  check_seal(object, json::canonical(unsealed(object.json())), shared);
  shared.lamp = lamp_file::read(object);
  check_physics(shared.lamp, object);
  shared.licence = object.text("licence");
  shared.contributor = object.object("contributor").text("name");
  shared.content_digest = sha256_hex(json::canonical(lamp_file::content(object.json())));
  if (object.has("extras")) shared.extras = json::canonical(object.object("extras").json());
  const std::vector<StoredCapture>& captures = shared.lamp.captures;
  shared.with_samples =
      !captures.empty() && std::all_of(captures.begin(), captures.end(),
                                       [](const StoredCapture& one) { return !one.capture.voltage_v.empty(); });
  shared.text = json::canonical(object.json());
  return shared;
}

/// Before anything is unpacked, so that a small file cannot ask for much memory.
void check_samples(const Object& document) {
  double samples = 0.0;
  for (const Object& lamp : document.objects("lamps")) {
    for (const Object& capture : lamp.objects("captures")) {
      if (capture.has(lamp_keys::waveform_key)) samples += capture.number("sample_count", 1, lamp_keys::most_samples);
    }
  }
  if (samples > lamp_keys::most_samples) {
    document.refuse("lamps", fmt::format("{:.0f} samples are more than the {:.0f} that one file may hold", samples,
                                         lamp_keys::most_samples));
  }
}

/// The same name, or the same record, must not stand in a file twice: which of them is meant?
void check_alike(const std::vector<SharedLamp>& lamps, const Object& document) {
  std::set<std::string> names;
  for (const SharedLamp& one : lamps) {
    if (!names.insert(one.lamp.name).second) {
      document.refuse("lamps", fmt::format("two lamps of this file are called '{}'", one.lamp.name),
                      "Keep one of them");
    }
  }
}

}  // namespace

SharedLamp shared_lamp(const LampRecord& lamp, const SharingTerms& terms) {
  Json record = lamp_file::written(lamp, terms);
  const std::string message = json::canonical(record);
  record["digest"] = sha256_hex(message);
  if (terms.key) {
    record["signature"] = {{"algorithm", lamp_keys::algorithms.front()}, {"value", terms.key->sign(message)}};
  }
  // What could not be read back is refused here.
  const Json read_back = json::parse(json::canonical(record), lamp.name, deepest_lamp_file, largest_lamp_file);
  return checked(Object(read_back, lamp.name, ""));
}

SharedLamp parse_lamp_record(const std::string& text, const std::string& origin) {
  const Json parsed = json::parse(text, origin, deepest_lamp_file, largest_lamp_file);
  return checked(Object(parsed, origin, ""));
}

std::string lamp_file_text(std::span<const SharedLamp> lamps, LampFileLayout layout) {
  // The earliest version that all its records keep to.
  std::string version(lamp_keys::versions.front());
  Json records = Json::array();
  for (const SharedLamp& one : lamps) {
    records.push_back(Json::parse(one.text));
    version = std::max(version, records.back().at("record_version").get<std::string>());
  }
  const Json document = {
      {"format", lamp_keys::formats.front()}, {"format_version", version}, {"lamps", std::move(records)}};
  return layout == LampFileLayout::lines ? json::laid_out(document) : json::canonical(document);
}

std::vector<SharedLamp> parse_lamp_file(const std::string& text, const std::string& origin) {
  const Json parsed = json::parse(text, origin, deepest_lamp_file, largest_lamp_file);
  const Object document(parsed, origin, "");
  if (document.has("format")) (void)document.choice("format", lamp_keys::formats);
  if (document.has("format_version")) {
    const std::string version = document.text("format_version");
    if (std::find(lamp_keys::versions.begin(), lamp_keys::versions.end(), version) == lamp_keys::versions.end()) {
      document.refuse(
          "format_version",
          fmt::format("version {} is not known here, only {}", version, fmt::join(lamp_keys::versions, " and ")),
          "Use a newer lampload, or ask for a file of a version that is known");
    }
  }
  lamp_keys::check_shape(document, lamp_keys::document);
  for (const Object& one : document.objects("lamps")) {
    if (one.text("record_version") > document.text("format_version")) {
      one.refuse("record_version", fmt::format("is {}, but the file says that it keeps to {}",
                                               one.text("record_version"), document.text("format_version")));
    }
  }
  check_samples(document);
  std::vector<SharedLamp> lamps;
  for (const Object& one : document.objects("lamps")) {
    lamps.push_back(checked(one));
    lamps.back().file = std::filesystem::path(origin).filename().string();
  }
  check_alike(lamps, document);
  const bool any_signed =
      std::any_of(lamps.begin(), lamps.end(), [](const SharedLamp& one) { return !one.signer.empty(); });
  // Two texts of one value are told apart too: another program may read them differently.
  if (any_signed && text != json::canonical(parsed) && text != json::laid_out(parsed)) {
    throw Error(ErrorCode::input_refused, "holds signed records, but is not written as such a file is",
                Place{.file = origin}, "It was changed on its way, if only in its blanks; ask for it again");
  }
  return lamps;
}

std::vector<SharedLamp> read_lamp_file(const std::string& path) {
  return parse_lamp_file(json::read_file(path, largest_lamp_file), path);
}

}  // namespace lampload
