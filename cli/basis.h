#pragma once
// What a lamp's figures rest on: captures, fit, program, and who stands for them.

#include <optional>
#include <string>
#include <vector>

#include "cli/terminal.h"
#include "db/library.h"

namespace lampload {

struct BasisCapture {
  std::string file;
  std::string sha256;
  std::string sample;
  Provenance measured;
  bool samples_here = true;  ///< false: only its figures are stored
};

struct Basis {
  Trust trust = Trust::own;
  std::string model_digest;  ///< over label, figures and fit, as lamp model files have it; empty: not fit to be shared
  std::vector<BasisCapture> captures;  ///< those of the fit, or all where there is none
  std::optional<Provenance> fitted;
  std::optional<Origin> origin;  ///< where it came in a lamp model file
};

Basis basis_of(const LampRecord& lamp);

/// What whoever relies on the lamp should know of where it comes from; empty where it was measured here.
std::string caution_of(const std::string& lamp, Trust trust, const std::optional<Origin>& origin);

/// The same in one line, for what is made of the lamp by others than recommend and plan; empty also where an accepted
/// signer stands for it.
std::string short_caution_of(const LampRecord& lamp);

/// "measured here", "not signed", ... for a table.
const char* trust_in_words(Trust trust);

/// Digest, signer, licence, and how the record came here.
void show_basis(Screen& screen, const LampRecord& lamp, const Basis& basis);

}  // namespace lampload
