#include "cli/passing_on.h"

#include <fmt/format.h>

#include <utility>

#include "cli/basis.h"

namespace lampload {
namespace {

/// "X; captures: Y": who shares, and who gave what was received.
std::string with_origin(const std::string& sharing, const std::string& original) {
  if (original.empty() || sharing.find(original) != std::string::npos) return sharing;
  const std::string given = original.find("captures: ") != std::string::npos ? original : "captures: " + original;
  return sharing.empty() ? given : sharing + "; " + given;
}

}  // namespace

SharedNote passed_on(const Library& library, const std::string& name, const SharingTerms& terms) {
  SharedNote note;
  const std::string record = library.received_record(name);
  const LampRecord lamp = library.lamp(name, record.empty() && terms.with_samples);
  note.revoked = lamp.trust == Trust::revoked_signer ? short_caution_of(lamp) : "";
  if (!record.empty()) {
    note.lamp = parse_lamp_record(record, name);
    note.as_received = true;
    note.other_label = lamp.nominal != note.lamp.lamp.nominal;
    return note;
  }
  SharingTerms own = terms;
  if (lamp.origin) {
    const std::string received = library.received_record(name, true);
    if (!received.empty()) own.extras = parse_lamp_record(received, name).extras;
    if (own.licence.empty()) own.licence = lamp.origin->licence;
    own.contributor = with_origin(terms.contributor, lamp.origin->contributor);
    note.received = lamp.origin;
  }
  note.lamp = shared_lamp(lamp, own);
  return note;
}

std::vector<std::string> notes_on(const SharedNote& note, const SharingTerms& terms) {
  std::vector<std::string> notes;
  const std::string& name = note.lamp.lamp.name;
  if (!note.revoked.empty()) notes.push_back(note.revoked + ". Others should not get it from you");
  if (note.received && !(note.received->licence.empty() && note.received->contributor.empty())) {
    const Origin& from = *note.received;
    const std::string contributor = from.contributor.empty() ? "" : fmt::format(" from '{}'", from.contributor);
    if (terms.licence.empty() || terms.licence == from.licence) {
      notes.push_back(fmt::format("{} has captures received{}{}", name, contributor,
                                  from.licence.empty()
                                      ? "; the file names them"
                                      : fmt::format(", which go on under their licence, '{}'", from.licence)));
    } else if (!from.licence.empty()) {
      notes.push_back(
          fmt::format("{} has captures received{} under the licence '{}', and '{}' was given for it; see that you may",
                      name, contributor, from.licence, terms.licence));
    } else {
      notes.push_back(
          fmt::format("{} has captures received{} without a licence, and '{}' was given for it; see that you may", name,
                      contributor, terms.licence));
    }
  }
  return notes;
}

}  // namespace lampload
