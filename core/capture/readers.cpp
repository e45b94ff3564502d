#include "core/capture/readers.h"

#include <fmt/format.h>

#include <array>

#include "core/capture/comtrade.h"
#include "core/capture/numpy.h"
#include "core/capture/other_forms.h"
#include "core/capture/packed_bytes.h"
#include "core/capture/text_table.h"
#include "core/capture/wav.h"
#include "core/error.h"

namespace lampload {
namespace {

constexpr std::array readers = {
    CaptureReader{"COMTRADE record", recognise_comtrade, read_comtrade},
    CaptureReader{"WAV file", recognise_wav, read_wav},
    CaptureReader{"NumPy array", recognise_numpy, read_numpy},
    CaptureReader{"text table", recognise_text_table, read_text_table},
};

FileStart start_of(const std::string& path) {
  PackedBytes file(path);
  FileStart start{path, std::string(1U << 16U, '\0')};
  start.bytes.resize(file.read(start.bytes.data(), start.bytes.size()));
  if (start.bytes.empty()) {
    throw Error(ErrorCode::input_refused, "is empty", Place{.file = path}, "Export the capture again.");
  }
  return start;
}

std::string names_of_readers() {
  std::string names;
  for (const CaptureReader& reader : readers) names += (names.empty() ? "" : ", ") + std::string(reader.name);
  return names;
}

}  // namespace

std::span<const CaptureReader> capture_readers() { return readers; }

RecognisedFile recognise_file(const std::string& path) {
  const FileStart start = start_of(path);
  RecognisedFile best;
  for (const CaptureReader& reader : readers) {
    Recognition found = reader.recognise(start);
    if (found.answer == Recognition::Answer::unknown || !(found.certainty > best.recognition.certainty)) continue;
    best = {&reader, std::move(found)};
  }
  constexpr double sure = 0.3;
  if (best.recognition.certainty < sure) {
    if (const auto other = other_form(start)) {
      throw Error(ErrorCode::input_refused, fmt::format("is {}, from which no samples are read", other->name),
                  Place{.file = path}, std::string(other->remedy));
    }
  }
  if (best.reader == nullptr) {
    throw Error(ErrorCode::input_refused,
                fmt::format("holds binary data of a form that no reader knows; known are: {}", names_of_readers()),
                Place{.file = path}, "Save or export it as plain text (CSV, UTF-8).");
  }
  if (best.recognition.answer == Recognition::Answer::unusable) {
    throw Error(ErrorCode::input_refused, fmt::format("is a {}, but {}", best.reader->name, best.recognition.reason),
                Place{.file = path}, best.recognition.remedy);
  }
  return best;
}

}  // namespace lampload
