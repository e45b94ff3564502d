#include "core/capture/other_forms.h"

#include <algorithm>
#include <array>
#include <string>

#include "core/capture/quantity.h"
#include "core/lower_case.h"

namespace lampload {
namespace {

using namespace std::string_view_literals;

struct Signature {
  std::string_view begins;
  OtherForm form;
};

constexpr std::string_view as_text = "Export the waveform's samples as text (CSV, UTF-8), one row a sample.";
constexpr std::string_view unpack = "Unpack it, and give the capture that is inside.";

constexpr std::array binary_forms = {
    Signature{"PK\x03\x04"sv, {"a zip archive or a spreadsheet", "Unpack it, or save the sheet as CSV."}},
    Signature{"7z\xBC\xAF\x27\x1C"sv, {"a 7z archive", unpack}},
    Signature{"Rar!"sv, {"an archive", unpack}},
    Signature{"BZh"sv, {"a bzip2 file", "Unpack it, or pack it with gzip or zstd."}},
    Signature{"\xFD"
              "7zXZ"sv,
              {"an xz file", "Unpack it, or pack it with gzip or zstd."}},
    Signature{"\x04\x22\x4D\x18"sv, {"an lz4 file", "Unpack it, or pack it with gzip or zstd."}},
    Signature{"\xD0\xCF\x11\xE0"sv, {"an office document or spreadsheet", "Save the sheet as CSV."}},
    Signature{"\x89PNG"sv, {"a picture", as_text}},
    Signature{"\xFF\xD8\xFF"sv, {"a picture", as_text}},
    Signature{"GIF8"sv, {"a picture", as_text}},
    Signature{"BM"sv, {"a picture", as_text}},
    Signature{"II*\0"sv, {"a picture", as_text}},
    Signature{"MM\0*"sv, {"a picture", as_text}},
    Signature{"%PDF"sv, {"a PDF document", as_text}},
    Signature{"%!PS"sv, {"a PostScript document", as_text}},
    Signature{"\x89HDF\r\n"sv,
              {"an HDF5 file", "Save the arrays as text (CSV), as NumPy arrays (.npy) or as a WAV file."}},
    Signature{"MATLAB 7.3"sv, {"a MATLAB file of version 7.3 (HDF5)", "Save the arrays as text (CSV)."}},
    Signature{"MATLAB 5.0"sv, {"a MATLAB file of level 5", "Save the arrays as text (CSV)."}},
    Signature{"SQLite format 3"sv, {"a database", as_text}},
    Signature{"CDF\x01"sv, {"a NetCDF file", as_text}},
    Signature{"\x7F"
              "ELF"sv,
              {"a program", as_text}},
    Signature{"MZ"sv, {"a program", as_text}},
    Signature{"OggS"sv, {"a compressed sound file", "Record as WAV (PCM); compression changes the waveform."}},
    Signature{"fLaC"sv, {"a packed sound file (FLAC)", "Turn it into WAV; nothing is lost by that."}},
    Signature{"ID3"sv, {"a compressed sound file", "Record as WAV (PCM); compression changes the waveform."}},
    Signature{"FORM"sv, {"an IFF file, such as AIFF sound", "Turn it into WAV (PCM)."}},
};

constexpr std::array text_forms = {
    Signature{"<?xml", {"an XML document", as_text}},
    Signature{"<!doctype html", {"a web page", as_text}},
    Signature{"<html", {"a web page", as_text}},
    Signature{"<svg", {"a picture", as_text}},
    Signature{"{\\rtf", {"a text with formatting (RTF)", as_text}},
    Signature{"{", {"a JSON document", as_text}},
};

}  // namespace

std::optional<OtherForm> other_form(const FileStart& start) {
  for (const Signature& known : binary_forms) {
    if (start.bytes.starts_with(known.begins)) return known.form;
  }
  std::string_view text = start.bytes;
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  const std::string beginning = lower_case(trimmed(text.substr(0, 200)));
  for (const Signature& known : text_forms) {
    if (beginning.starts_with(known.begins)) return known.form;
  }
  if (beginning.starts_with("version https://") && beginning.find("\noid ") != std::string::npos) {
    return OtherForm{"a pointer to a file that is kept elsewhere", "Fetch the file itself."};
  }
  return std::nullopt;
}

}  // namespace lampload
