#pragma once
// Is the capture that the fit advises to take next the one that helps most?

#include <optional>
#include <random>
#include <string>
#include <vector>

namespace lampload::accuracy {

/// One lamp of which some captures were taken, and what each capture that could still be taken did.
struct AdviceTrial {
  struct Taken {
    std::string capture;         ///< in a few words
    double promised = 0.0;       ///< what the advice expected of it: as `now` below, for the figure known worst then
    std::vector<double> widths;  ///< as `now` below, with it among the others; a number for each draw of its noise
    std::vector<std::string> refused;  ///< why a draw narrowed nothing
  };
  std::string lamp;
  std::vector<std::string> captures;  ///< already there
  std::string refused;                ///< why there is no advice to judge; empty: there is
  /// Half of ln(largest over smallest) of the load figure that is known worst, between the lamps at its two ends: how
  /// far a count may be off that this figure limits.
  double now = 0.0;
  std::optional<std::size_t> advised;  ///< index into `candidates`; empty: nothing
  std::string sentence;
  std::vector<Taken> candidates;  ///< those that the advice weighed
};

/// The number chooses the kind of lamp in turn; the rest is drawn.
AdviceTrial advice_trial(std::size_t number, std::mt19937_64& random);

}  // namespace lampload::accuracy
