#include "core/error.h"

#include <utility>

namespace lampload {
namespace {

std::string written(const Place& place) {
  std::string text = place.file;
  if (place.line) text += (text.empty() ? "line " : ":") + std::to_string(*place.line);
  if (!place.column.empty()) text += (text.empty() ? "column " : ", column ") + place.column;
  if (!place.key.empty()) text += (text.empty() ? "" : ", ") + place.key;
  return text;
}

}  // namespace

int exit_status(ErrorCode code) {
  switch (code) {
    case ErrorCode::usage:
      return 2;
    case ErrorCode::input_refused:
    case ErrorCode::calculation:
      return 3;
    case ErrorCode::not_found:
      return 4;
    case ErrorCode::library:
      return 5;
  }
  return 3;
}

Error::Error(ErrorCode code, std::string message, Place place, std::string remedy)
    : code_(code), message_(std::move(message)), place_(std::move(place)), remedy_(std::move(remedy)) {
  text_ = written(place_);
  if (!text_.empty()) text_ += ": ";
  text_ += message_;
  if (!remedy_.empty()) text_ += ". " + remedy_;
}

}  // namespace lampload
