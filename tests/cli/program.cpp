#include "program.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <numbers>
#include <stdexcept>

namespace lampload::test {
namespace {

[[noreturn]] void become_program(const std::filesystem::path& folder, const std::vector<std::string>& arguments,
                                 const Environment& environment) {
  std::vector<std::string> words = {program_path()};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  for (const char* name : {"NO_COLOR", "COLUMNS"}) unsetenv(name);
  setenv("TERM", "xterm", 1);
  setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
  for (const auto& [name, value] : environment) setenv(name.c_str(), value.c_str(), 1);
  if (chdir(folder.c_str()) == 0) execv(argv.front(), argv.data());
  _exit(127);
}

int status_of(pid_t child) {
  int state = 0;
  waitpid(child, &state, 0);
  return WIFEXITED(state) ? WEXITSTATUS(state) : 128 + WTERMSIG(state);
}

std::string all_of(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

}  // namespace

std::string program_path() { return LAMPLOAD_PROGRAM; }

Workplace::Workplace() {
  std::string pattern = (std::filesystem::temp_directory_path() / "lampload_cli_XXXXXX").string();
  if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder");
  folder_ = pattern;
}

Workplace::~Workplace() {
  std::error_code ignored;
  std::filesystem::remove_all(folder_, ignored);
}

Outcome Workplace::run(const std::vector<std::string>& arguments, const Environment& environment) const {
  const std::filesystem::path out = folder_ / ".stdout";
  const std::filesystem::path err = folder_ / ".stderr";
  const pid_t child = fork();
  if (child == 0) {
    dup2(open("/dev/null", O_RDONLY | O_CLOEXEC), STDIN_FILENO);
    dup2(open(out.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600), STDOUT_FILENO);
    dup2(open(err.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600), STDERR_FILENO);
    become_program(folder_, arguments, environment);
  }
  Outcome outcome;
  outcome.status = status_of(child);
  outcome.out = all_of(out);
  outcome.err = all_of(err);
  return outcome;
}

Outcome Workplace::run_on_terminal(const std::vector<std::string>& arguments, const std::string& typed,
                                   const Environment& environment) const {
  int terminal = -1;
  winsize size{};
  size.ws_col = 100;
  size.ws_row = 40;
  const pid_t child = forkpty(&terminal, nullptr, nullptr, &size);
  if (child == 0) become_program(folder_, arguments, environment);
  Outcome outcome;
  if (!typed.empty() && ::write(terminal, typed.data(), typed.size()) < 0) throw std::runtime_error("terminal");
  char buffer[4096];
  for (ssize_t got = 0; (got = ::read(terminal, buffer, sizeof buffer)) > 0;) {
    outcome.out.append(buffer, static_cast<std::size_t>(got));
  }
  close(terminal);
  outcome.status = status_of(child);
  return outcome;
}

void Workplace::write(const std::string& name, const std::string& text) const {
  std::ofstream(path(name), std::ios::binary) << text;
}

std::string Workplace::read(const std::string& name) const { return all_of(path(name)); }

void Workplace::write_resistor_capture(const std::string& name, double resistance_ohm) const {
  std::string text = "time (s),voltage (V),current (A)\n";
  for (int i = 0; i < 4000; ++i) {
    const double t = i / 20000.0;
    // Rounded as an 8-bit digitiser with 800 V and 2 A full scale would, so that there is noise to weigh by.
    const double v = std::round(230.0 * std::numbers::sqrt2 * std::sin(100.0 * std::numbers::pi * t) / 3.125) * 3.125;
    const double a =
        std::round(230.0 * std::numbers::sqrt2 * std::sin(100.0 * std::numbers::pi * t) / resistance_ohm / 0.0078125) *
        0.0078125;
    text += fmt::format("{:.6f},{:.4f},{:.7f}\n", t, v, a);
  }
  write(name, text);
}

void Workplace::write_dimmer(const std::string& name, const std::string& channel_name) const {
  write(name, fmt::format(R"({{
  "format": "lampload-channel",
  "format_version": "1.0",
  "name": "{}",
  "supply": {{"voltage_v": 230, "frequency_hz": 50, "tolerance_percent": 10, "source_resistance_ohm": 0.4}},
  "output": {{
    "kind": "phase_cut",
    "edges": ["leading", "trailing"],
    "switch": "mosfet_pair",
    "on_resistance_ohm": 0.1,
    "rated_current_a": 2,
    "repetitive_peak_current_a": 12,
    "surge_peak_current_a": 40,
    "neutral": true,
    "min_conduction_deg": 20,
    "max_conduction_deg": 170
  }}
}}
)",
                          channel_name));
}

}  // namespace lampload::test
