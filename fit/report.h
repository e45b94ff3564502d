#pragma once
// The parts of a fit report, gathered where the fit has them at hand.

#include <functional>
#include <span>
#include <vector>

#include "fit/family_search.h"
#include "fit/fit.h"
#include "fit/uncertainty.h"

namespace lampload {

/// How the choice among families went.
struct Choice {
  const std::vector<bool>& standing;    ///< one a family: not set aside
  const std::vector<double>& criteria;  ///< one a family
  std::size_t best;                     ///< the chosen one
  double worth_refining;                ///< misfit on the coarse records beyond which a family was not refined
};

/// One entry a family: where its starts ended, and what became of it. scouted: the solved starts of all, in the order
/// tried. only_mimics(one): its values stand for another kind of lamp.
std::vector<FamilyReport> family_reports(std::span<const Candidate> scouted, std::span<const Refined> refined,
                                         const Choice& choice,
                                         const std::function<bool(const Candidate&)>& only_mimics);

/// Of the final solution, parameters at a bound held; captures, families and knowledge from elsewhere left out. bound:
/// over the layout. trials: of the chosen family.
FitReport report_of(const Refined& final, const std::vector<bool>& bound, const std::vector<FreeingTrial>& trials);
void add_capture(FitReport& report, const LampResiduals& residuals, std::size_t capture, const CaptureFit& fit);

/// How far the residuals of a solution are from white ones.
Correlation correlation_of(const Refined& solution);

}  // namespace lampload
