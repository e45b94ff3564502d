#include "cli/basis.h"

#include <fmt/format.h>

#include <algorithm>

#include "core/error.h"
#include "db/lamp_file.h"

namespace lampload {
namespace {

/// The name a key was accepted or revoked under, or its first digits.
std::string signer_in_words(const Origin& origin) {
  return origin.signer_name.empty() ? fmt::format("key {}...", in_short(origin.signer))
                                    : fmt::format("'{}'", origin.signer_name);
}

}  // namespace

Basis basis_of(const LampRecord& lamp) {
  Basis basis;
  basis.trust = lamp.trust;
  basis.origin = lamp.origin;
  if (lamp.fit) basis.fitted = lamp.fit->provenance;
  for (const StoredCapture& one : lamp.captures) {
    const bool used = !lamp.fit || std::find(lamp.fit->capture_ids.begin(), lamp.fit->capture_ids.end(), one.id) !=
                                       lamp.fit->capture_ids.end();
    if (used) basis.captures.push_back({one.capture.file, one.sha256, one.sample, one.provenance, !one.figures_only});
  }
  try {
    basis.model_digest = shared_lamp(lamp, {}).content_digest;
  } catch (const Error&) {
    // A lamp of an earlier version that could not be shared has none.
  }
  return basis;
}

std::string caution_of(const std::string& lamp, Trust trust, const std::optional<Origin>& origin) {
  const std::string ask = "measure one yourself before you rely on the count";
  const Origin from = origin.value_or(Origin{});
  const std::string refitted = from.fitted_here ? ". The circuit was fitted to it here" : "";
  switch (trust) {
    case Trust::own:
      return "";
    case Trust::unsigned_record:
      if (!origin) {
        return fmt::format(
            "'{}' was not measured here, and the record it came with is lost from the library: nobody is known to "
            "stand for it, and whether its signer was revoked is not known; {}",
            lamp, ask);
      }
      return fmt::format(
          "'{}' was not measured here: it came in a lamp model file that nobody signed, so anybody who passed it on "
          "could have changed it{}; {}",
          lamp, refitted, ask);
    case Trust::unknown_signer:
      if (from.fitted_here) {
        return fmt::format(
            "'{}' was not measured here: its circuit was fitted here to captures that came signed with {}, which was "
            "neither accepted nor revoked here. Who that is, is not known; {}",
            lamp, signer_in_words(from), ask);
      }
      return fmt::format(
          "'{}' was not measured here: it is signed with {}, which was neither accepted nor revoked here. It is as its "
          "signer wrote it, but who that is, is not known; {}",
          lamp, signer_in_words(from), ask);
    case Trust::accepted_signer:
      return fmt::format(
          "'{}' was not measured here: it is signed by {}, whose key you accepted. That says who stands for it, not "
          "that it was measured well",
          lamp, signer_in_words(from));
    case Trust::revoked_signer:
      return fmt::format(
          "'{}' was not measured here, and the key of {} that signed it was revoked{}{}: do not rely on "
          "it; {}",
          lamp, signer_in_words(from), from.revoked_why.empty() ? "" : ", because: ", from.revoked_why, ask);
    case Trust::accepted_captures:
      return fmt::format(
          "'{}' was not measured here: its circuit was fitted here to captures that came signed by {}, whose key you "
          "accepted. The signature is on those captures, not on this circuit, nor on what its label is taken to say "
          "here",
          lamp, signer_in_words(from));
  }
  return "";
}

std::string short_caution_of(const LampRecord& lamp) {
  const std::string start = fmt::format("'{}' was not measured here", lamp.name);
  const Origin from = lamp.origin.value_or(Origin{});
  switch (lamp.trust) {
    case Trust::own:
    case Trust::accepted_signer:
    case Trust::accepted_captures:
      return "";
    case Trust::unsigned_record:
      if (!lamp.origin) return start + ", and the record it came with is lost: nobody is known to stand for it";
      return start + ", and nobody signed the lamp model file it came in";
    case Trust::unknown_signer:
      return fmt::format("{}: it is signed with {}, which was neither accepted nor revoked here", start,
                         signer_in_words(from));
    case Trust::revoked_signer:
      return fmt::format("{}, and the key of {} that signed it was revoked: do not rely on it", start,
                         signer_in_words(from));
  }
  return "";
}

const char* trust_in_words(Trust trust) {
  switch (trust) {
    case Trust::own:
      return "measured here";
    case Trust::unsigned_record:
      return "not signed";
    case Trust::unknown_signer:
      return "unknown signer";
    case Trust::accepted_signer:
      return "accepted signer";
    case Trust::revoked_signer:
      return "REVOKED signer";
    case Trust::accepted_captures:
      return "fitted here, accepted signer's captures";
  }
  return "";
}

void show_basis(Screen& screen, const LampRecord& lamp, const Basis& basis) {
  screen.line("Where it comes from", Style::heading);
  Table table({"", ""});
  table.add({"source", trust_in_words(basis.trust)});
  if (!basis.model_digest.empty()) table.add({"model digest", basis.model_digest});
  if (basis.origin) {
    const Origin& origin = *basis.origin;
    table.add({"record digest", origin.digest});
    if (!origin.signer.empty()) {
      table.add({"signed with",
                 fmt::format("{}{}{}", origin.signer, origin.signer_name.empty() ? "" : ", ", origin.signer_name)});
    }
    if (!origin.contributor.empty()) table.add({"contributor", origin.contributor});
    table.add({"licence", origin.licence.empty() ? "not said" : origin.licence});
    table.add({"received", fmt::format("{}, by {}, as '{}' from {}, lampload {}", origin.time_utc, origin.person,
                                       origin.name, origin.file, origin.program_version)});
    if (basis.trust == Trust::own) {
      table.add({"since then", "measured and fitted here"});
    } else if (origin.fitted_here) {
      table.add({"since then", "fitted here, to the captures that were received"});
    }
  } else if (basis.trust != Trust::own) {
    table.add({"received", "the record of it is lost"});
  }
  if (!lamp.superseded_by.empty()) table.add({"its place took", lamp.superseded_by});
  for (const SupersededLamp& one : lamp.earlier) {
    table.add({"took the place of", fmt::format("{} ({})", one.name, one.time_utc)});
  }
  screen.table(table, 2);
  const std::string caution = caution_of(lamp.name, basis.trust, basis.origin);
  if (!caution.empty()) {
    screen.paragraph("Caution: " + caution + ".", 2,
                     basis.trust == Trust::revoked_signer ? Style::bad : Style::warning);
  }
}

}  // namespace lampload
