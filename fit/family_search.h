#pragma once
// From start values to the best solution of one family: many coarse starts, then refinement, then one by one the
// optional parameters that the data ask for.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "core/capture/capture.h"
#include "core/waveform/figures.h"
#include "fit/lamp_residuals.h"

namespace lampload {

/// A solution of one family.
struct Candidate {
  std::size_t family = 0;  ///< index into lamp_families()
  bool usable = false;
  std::vector<double> full;  ///< over the layout
  std::vector<bool> free;
  double cost = 0.0;
};

/// Blocks of the final fit.
inline constexpr DriveOptions whole_record{.coarse_s = 40e-6, .fine_s = 5e-6};

/// What all families of one fit share.
struct SearchInput {
  std::span<const Capture> captures;
  std::span<const Figures> figures;
  SharedDrives scout;   ///< coarse and short: for the starts
  SharedDrives judged;  ///< with held-out cycles: for the choice
  SharedDrives whole;   ///< everything: for the final fit
  StartHints hints;
  Nominal nominal;
  std::uint64_t seed = 0;
};

/// The family's start vectors for these hints, scattered ones included, weighed on the scout drives: the few with the
/// least misfit.
std::vector<Candidate> promising_starts(const SearchInput& input, std::size_t family);

/// Solves from one start on the scout drives. The same start gives the same result, whatever thread runs it.
Candidate run_start(const SearchInput& input, const Candidate& start);

/// Gain that pays for one parameter. Found on simulated lamps: chokes that were there brought 15 and more, mostly over
/// 30, those that were not 5 to 25.
inline constexpr double worth_freeing = 26.0;

/// What came of setting one optional parameter, or the part that it leads, free.
struct FreeingTrial {
  enum class End {
    not_tried,
    not_asked_for,
    not_converged,
    vanished,
    leans_on_bound,
    does_not_pay,
    enough_freed,
    freed
  };
  End end = End::not_tried;
  /// Fall of the cost in blocks counted by their correlation (where a part is not asked for: as far as the residuals
  /// promise it); 0 where it did not come so far.
  double gain = 0.0;
  double worth = worth_freeing;  ///< gain that would pay
};
/// The best of the scouted candidates refined on the judged drives, optional parameters freed where they pay; taken
/// over as it is where its cost exceeds `worth_refining`.
struct Refined {
  Candidate candidate;
  std::unique_ptr<LampResiduals> residuals;  ///< on the judged drives
  std::vector<FreeingTrial> trials;          ///< one a parameter of the family
  double misfit = 0.0;                       ///< see misfit(); of usable ones
};
Refined refine(const SearchInput& input, std::size_t family, std::vector<Candidate> scouted, double worth_refining);

/// `own` or, where that fits better, the solution found from `own` with the parameters it has in common with `other`,
/// instrument and start states included, taken over from there: load laws behind the same front end.
Refined with_parts_of(const SearchInput& input, Refined own, const Refined& other);

/// Robust -2 ln(likelihood) of a solution on the cycles it was fitted to, with its own weights: one that explains by
/// noise what it misses pays for it.
double misfit(const LampResiduals& residuals, std::span<const double> full);

/// The chosen family once more, on everything.
Refined finish(const SearchInput& input, const Candidate& chosen, unsigned threads);

/// Instrument and start states fitted anew to the lamp's parameters as they stand.
void settle_around_lamp(Refined& solution);

/// How large a parameter held at 0 may be before the captures object (95 %), everything else fitted anew: a coarse
/// search on the scout drives. In SI.
double upper_limit_of_held(const SearchInput& input, const Candidate& solution, std::size_t parameter);

/// The residuals of a family on some of the search's drives.
std::unique_ptr<LampResiduals> residuals_on(const SearchInput& input, std::size_t family, const SharedDrives& drives);
/// Solves from `candidate` and writes the result back.
void solve(LampResiduals& residuals, Candidate& candidate, const SolveOptions& options);
/// True where a parameter that the family cannot do without has run to its physical bound: an optional one may have
/// taken over its part (the reservoir's resistance that of the one in series).
bool leans_on_bound(const LampResiduals& residuals, const Candidate& candidate);

/// Free unknowns at the solution that sit on a bound.
std::vector<bool> at_bound(const LampResiduals& residuals, const Candidate& candidate);

}  // namespace lampload
