#pragma once
// The forms of files that captures are read from, and which of them a file is: told by what it holds, never by its name
// alone or by who wrote it.

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>

#include "core/capture/capture.h"
#include "core/capture/layout.h"

namespace lampload {

inline constexpr std::size_t fewest_samples = 16;  ///< of a capture that can be read

/// The beginning of a file, unpacked where it is packed.
struct FileStart {
  std::string path;
  std::string bytes;  ///< up to 64 KiB
};

/// What a reader makes of a file.
struct Recognition {
  enum class Answer {
    unknown,   ///< not this reader's form
    unusable,  ///< its form, but there is nothing in it that could serve; `reason` says why, `remedy` what to do
    readable,
  };
  Answer answer = Answer::unknown;
  double certainty = 0.0;  ///< 0 to 1; the surest reader reads
  std::string reason;      ///< what it was told by
  std::string remedy;
};

struct CaptureReader {
  std::string_view name;
  Recognition (*recognise)(const FileStart& start);
  /// Not conditioned yet. Throws Error{input_refused}.
  Capture (*read)(const std::string& path, const CaptureOptions& options, Channels channels);
};

/// All of them. A new form is one file and one line here.
std::span<const CaptureReader> capture_readers();

struct RecognisedFile {
  const CaptureReader* reader = nullptr;
  Recognition recognition;
};

/// Throws Error{input_refused} for what no reader knows, and (with other words) for what one knows but cannot use.
RecognisedFile recognise_file(const std::string& path);

}  // namespace lampload
