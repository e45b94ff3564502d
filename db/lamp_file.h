#pragma once
// The lamp model file: JSON, "format":"lampload-lamp", "format_version":"1.0". One document holds one or several lamps;
// docs/formats/lamp.md describes every key, what the digests cover and what a signature is made over.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "db/library.h"
#include "db/signature.h"

namespace lampload {

/// What goes out with a lamp beside what is known of it.
struct SharingTerms {
  bool with_samples = false;          ///< the captures' samples too, so that the receiver can fit again
  std::string licence = {};           ///< of the data; empty: not said
  std::string contributor = {};       ///< who shares, in words; may be empty
  std::optional<SecretKey> key = {};  ///< signs; empty: not signed
  std::string extras = {};            ///< JSON object kept as it is; empty: none
};

/// One lamp of a model file, checked.
struct SharedLamp {
  /// Its captures have the ids 1, 2, ... that the fit's capture_ids refer to, and samples only where the file has them.
  LampRecord lamp;
  std::string licence;
  std::string contributor;
  std::string signer;          ///< public key whose signature holds; empty: not signed
  std::string digest;          ///< SHA-256 over the record without its digest and signature
  std::string content_digest;  ///< over label data, captures without samples, and fit: the same under any name
  std::string extras;          ///< JSON object; empty: none
  bool with_samples = false;   ///< of every capture
  std::string text;            ///< the record in canonical form, with digest and signature
  std::string file;            ///< name of the file it was read from, without its folder; empty: of none
};

/// Of a lamp as the library gives it (Library::lamp(name, terms.with_samples)). The same lamp and terms give the same
/// text. Of file names the folders are left out. Throws Error{input_refused} where it could not be read back, and
/// where samples are asked for that the library does not hold.
SharedLamp shared_lamp(const LampRecord& lamp, const SharingTerms& terms);

/// One record from its text, as Library::received_record() gives it; checked again.
SharedLamp parse_lamp_record(const std::string& text, const std::string& origin);

/// How the text of a file is laid out; both are read, and a signed file has to be one of them byte for byte.
enum class LampFileLayout {
  canonical,  ///< RFC 8785
  lines,      ///< the same over many lines, for people and for comparing line by line
};

/// A document of the records in the order given, each as its text has it.
std::string lamp_file_text(std::span<const SharedLamp> lamps, LampFileLayout layout = LampFileLayout::lines);

/// Most bytes of a file, and levels of nesting.
inline constexpr std::size_t largest_lamp_file = std::size_t{64} << 20U;
inline constexpr int deepest_lamp_file = 16;

/// Reads and checks all of it: limits, every key, digests, signatures (whether the signer is trusted is the library's
/// to say), parameters against their family's table, covariances. Throws Error{input_refused} with file and key (or
/// line and column) of the first fault.
std::vector<SharedLamp> read_lamp_file(const std::string& path);
/// The same from text; `origin` names it in errors.
std::vector<SharedLamp> parse_lamp_file(const std::string& text, const std::string& origin);

}  // namespace lampload
