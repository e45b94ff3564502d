#pragma once
// The one error type: what, where, what was expected, what to do. Thrown anywhere, caught once in cli.

#include <cstddef>
#include <exception>
#include <optional>
#include <string>

namespace lampload {

/// Why something failed. The numbers of the exit status are in exit_status().
enum class ErrorCode {
  usage,          ///< the command line or an argument makes no sense
  input_refused,  ///< a capture, channel, plan or lamp file was read and refused
  not_found,      ///< a lamp or channel is not in the library
  library,        ///< the library could not be read or written
  calculation,    ///< a simulation or a fit could not be carried through
};

/// Exit status of the program for an error: usage 2, input 3, not found 4, library 5, calculation 3.
int exit_status(ErrorCode code);

/// Where it happened; what does not apply stays empty.
struct Place {
  std::string file = {};
  std::optional<std::size_t> line = {};  ///< 1-based
  std::string column = {};               ///< column name or 1-based number
  std::string key = {};                  ///< path of a key, such as output.rated_current_a
};

class Error : public std::exception {
 public:
  /// message: what is wrong and what was expected. remedy: what the person can do; may be empty.
  Error(ErrorCode code, std::string message, Place place = {}, std::string remedy = {});

  [[nodiscard]] ErrorCode code() const { return code_; }
  [[nodiscard]] const std::string& message() const { return message_; }
  [[nodiscard]] const Place& place() const { return place_; }
  [[nodiscard]] const std::string& remedy() const { return remedy_; }
  /// "file:line, column x: message. remedy"
  [[nodiscard]] const char* what() const noexcept override { return text_.c_str(); }

 private:
  ErrorCode code_;
  std::string message_;
  Place place_;
  std::string remedy_;
  std::string text_;
};

}  // namespace lampload
