#pragma once
// Runs the built program as a person or another program would, in a folder of its own.

#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace lampload::test {

struct Outcome {
  int status = -1;
  std::string out;
  std::string err;
};

/// Of the program under test.
std::string program_path();

using Environment = std::map<std::string, std::string>;

/// A temporary folder with a library of its own; gone at the end.
class Workplace {
 public:
  Workplace();
  ~Workplace();
  Workplace(const Workplace&) = delete;
  Workplace& operator=(const Workplace&) = delete;

  /// Runs `lampload ARGUMENTS` inside the folder, standard input closed. XDG_DATA_HOME is the folder's "data".
  [[nodiscard]] Outcome run(const std::vector<std::string>& arguments, const Environment& environment = {}) const;
  /// The same with all three streams on a pseudo terminal, `typed` as the keyboard; everything shown is in `out`.
  [[nodiscard]] Outcome run_on_terminal(const std::vector<std::string>& arguments, const std::string& typed = "",
                                        const Environment& environment = {}) const;

  [[nodiscard]] std::filesystem::path path(const std::string& name) const { return folder_ / name; }
  void write(const std::string& name, const std::string& text) const;
  [[nodiscard]] std::string read(const std::string& name) const;

  /// Ten cycles of a resistor on 230 V 50 Hz, 20 kS/s: time, voltage, current.
  void write_resistor_capture(const std::string& name, double resistance_ohm = 500.0) const;
  /// A trailing and leading edge dimmer, named "boathouse dimmer".
  void write_dimmer(const std::string& name, const std::string& channel_name = "boathouse dimmer") const;

 private:
  std::filesystem::path folder_;
};

}  // namespace lampload::test
