#pragma once
// Where a lamp's figures come from, and whether somebody the person trusts stands for them.

#include <string>

namespace lampload {

enum class Trust {
  own,              ///< measured and fitted here
  unsigned_record,  ///< came in a lamp model file that nobody signed
  unknown_signer,   ///< signed with a key that was neither accepted nor revoked here
  accepted_signer,
  revoked_signer,
  accepted_captures,  ///< an accepted signer stands for its captures; the newest fit of them was made here
};

/// "own", "unsigned", "unknown_signer", "accepted_signer", "revoked_signer", "accepted_captures": read by other
/// programs.
const char* trust_name(Trust trust);

/// How a lamp came here in a lamp model file.
struct Origin {
  Trust trust = Trust::unsigned_record;
  std::string name;            ///< that the file gives the lamp
  std::string digest;          ///< of the record
  std::string content_digest;  ///< of the model, whatever its name
  std::string signer;          ///< public key; empty: not signed
  std::string signer_name;     ///< as the key was accepted or revoked; empty: it was not
  std::string revoked_why;     ///< of a revoked key
  std::string licence;
  std::string contributor;
  std::string file;
  std::string person;  ///< who received it
  std::string time_utc;
  std::string program_version;
  bool fitted_here = false;  ///< the lamp's newest fit is not the record's
};

/// A public key the person decided about.
struct SignerKey {
  std::string public_key;
  std::string name;
  bool accepted = true;  ///< false: revoked
  std::string reason;    ///< of a revocation; may be empty
  std::string time_utc;  ///< of the decision
};

}  // namespace lampload
