#include "tests/reference/ngspice.h"

#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iomanip>
#include <iterator>
#include <sstream>
#include <stdexcept>

namespace lampload::test {
namespace {

namespace fs = std::filesystem;

/// A folder that goes away with its owner.
class TemporaryFolder {
 public:
  TemporaryFolder() {
    std::string pattern = (fs::temp_directory_path() / "lampload_spice_XXXXXX").string();
    if (mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no temporary folder for ngspice");
    path_ = pattern;
  }
  ~TemporaryFolder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

std::string read_text(const fs::path& path) {
  std::ifstream in(path);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace

SpiceRun run_ngspice(const std::string& deck, const std::vector<std::string>& expressions, double end_s) {
  const TemporaryFolder folder;
  const fs::path output = folder.path() / "out.txt";
  const fs::path log = folder.path() / "log.txt";
  {
    std::ofstream file(folder.path() / "deck.cir");
    file << "* reference\n" << deck << "\n.control\nset wr_singlescale\nset numdgt=12\nrun\nwrdata " << output.string();
    for (const std::string& expression : expressions) file << ' ' << expression;
    file << "\nquit\n.endc\n.end\n";
  }
  const std::string command =
      "cd '" + folder.path().string() + "' && ngspice -b deck.cir > '" + log.string() + "' 2>&1 < /dev/null";
  const int status = std::system(command.c_str());  // NOLINT: fixed words only
  const std::string text = read_text(log);
  const auto refuse = [&](const std::string& why) {
    throw std::runtime_error("ngspice: " + why + "\n" + text.substr(0, 4000));
  };
  if (WIFEXITED(status) && WEXITSTATUS(status) == 127) refuse("not installed");
  for (const char* sign :
       {"aborted", "Timestep too small", "singular matrix", "Error", "error on line", "no such vector"}) {
    if (text.find(sign) != std::string::npos) refuse(std::string("failed: ") + sign);
  }

  SpiceRun run;
  run.columns.resize(expressions.size());
  std::ifstream in(output);
  for (std::string line; std::getline(in, line);) {
    std::istringstream words(line);
    double number = 0.0;
    if (!(words >> number)) refuse("unreadable output: " + line);
    run.time_s.push_back(number);
    for (auto& column : run.columns) {
      if (!(words >> number)) refuse("a column is missing");
      column.push_back(number);
    }
  }
  if (run.time_s.empty()) refuse("no output");
  if (run.time_s.back() < end_s * (1.0 - 1e-6)) refuse("stopped at " + std::to_string(run.time_s.back()) + " s");
  return run;
}

double value_at(const SpiceRun& run, std::size_t column, double time_s) {
  const auto& t = run.time_s;
  const auto& y = run.columns[column];
  const auto after = std::lower_bound(t.begin(), t.end(), time_s);
  if (after == t.begin()) return y.front();
  if (after == t.end()) return y.back();
  const auto k = static_cast<std::size_t>(after - t.begin());
  return y[k - 1] + (y[k] - y[k - 1]) * (time_s - t[k - 1]) / (t[k] - t[k - 1]);
}

std::string spice_pwl(const std::vector<double>& time_s, const std::vector<double>& value) {
  std::ostringstream out;
  out << std::setprecision(15) << "PWL(";
  for (std::size_t i = 0; i < time_s.size(); ++i) {
    if (i % 4 == 0) out << "\n+ ";
    out << time_s[i] << ' ' << value[i] << ' ';
  }
  out << ")";
  return out.str();
}

std::string spice_chain(const std::string& plus, const std::string& minus, double volt, double ohm, double lamps) {
  const double knee_v = 0.02 * volt;
  const double working_a = 0.16 * volt / ohm;
  // As a table: a diode of so large an emission coefficient keeps ngspice from converging behind a bridge.
  std::ostringstream out;
  out << std::setprecision(12) << "Bchain " << plus << ' ' << minus << " I = pwl(v(" << plus << ',' << minus
      << "), 0,0";
  int points = 0;
  for (double share = 0.004; share < 40.0; share *= 1.03) {
    if (++points % 4 == 0) out << "\n+ ";
    out << ", " << volt + ohm * share * working_a + knee_v * (std::log(share) - (share - 1.0)) << ','
        << lamps * share * working_a;
  }
  out << ")\n";
  return out.str();
}

}  // namespace lampload::test
