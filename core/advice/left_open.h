#pragma once
// What the captures leave open of a lamp: independent ways in which it may differ from the central one, and how far
// each of them moves what loads a channel (propagation of uncertainty, JCGM 100, 5.2).

#include <cstddef>
#include <span>
#include <vector>

#include "core/advice/recommendation.h"

namespace lampload {

/// The lamp at one end of such a way.
struct OpenEnd {
  /// One for each parameter, from the central lamp: in its coordinate; of a part that the lamp does without, its size
  /// in SI.
  std::vector<double> by;
  Lamp lamp;
  std::vector<double> figures;  ///< logarithms of its load figures, in the order of load_figures()
};

/// Parameters that the captures tie together move together, as the covariance says, as far as the running current goes
/// as the captures say; one of which the captures say
/// nothing moves alone, within its interval (no further than a factor of ten from the central value).
struct OpenWay {
  OpenEnd down, up;          ///< at 95 %
  bool absent_part = false;  ///< the lamp does without it, and the captures do not rule it out; down: nothing
};

struct LeftOpen {
  std::vector<double> figures;  ///< of the central lamp; empty: none, at DC or where the circuit cannot be solved
  std::vector<OpenWay> ways;
};

/// The evidence holds a lamp. `at`: the supply of the load figures. Runs simulations in parallel.
LeftOpen left_open(const LampEvidence& evidence, const OperatingPoint& at);

/// How far one way moves a figure, as a logarithm, and by which of its ends; null: by neither.
struct Contribution {
  double reach = 0.0;
  const OpenEnd* end = nullptr;
};

/// One for each way: to the side of more (`way` 1) or of less (-1). A part that the lamp does without counts where it
/// would move the figure by much and the running current by nothing.
std::vector<Contribution> contributions_to(std::size_t figure, double way, const LeftOpen& open);

/// Independent contributions add by their squares.
double added(std::span<const Contribution> contributions);

/// The lamp with its parameters moved, within the table's bounds; by: as OpenEnd::by.
Lamp moved(const Lamp& central, const std::vector<double>& by);

/// Logarithms of the load figures; empty: none, at DC or where the circuit cannot be solved.
std::vector<double> log_load_figures(const Lamp& lamp, const OperatingPoint& at);

}  // namespace lampload
