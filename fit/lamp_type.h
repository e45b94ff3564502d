#pragma once
// Several samples (pieces) of one lamp type: each is fitted on its own, all with the family that suits them best
// together, and a random-effects model tells the type's mean from the spread between pieces (piece_spread.h).
//
// The mean of the parameters is that of generalised least squares over the samples' solutions in their coordinates,
// each weighed by its covariance and the spread between pieces. What all samples share (the scale of one instrument,
// what is known beforehand) is no spread and does not average out.

#include <span>
#include <string>
#include <vector>

#include "fit/fit.h"
#include "fit/piece_spread.h"

namespace lampload {

struct SampleCaptures {
  std::string label;
  std::vector<Capture> captures;
  std::vector<Figures> figures;
};

struct SampleFit {
  std::string label;
  FitResult fit;
};

/// Between pieces, of one quantity.
struct NamedSpread {
  std::string name;
  bool relative = true;  ///< a share of the value; else of the parameter's typical size
  PieceSpread known;
};

struct LampTypeFit {
  FitResult type;                  ///< the mean lamp; with one sample that sample's fit
  std::vector<SampleFit> samples;  ///< empty with one sample
  std::vector<NamedSpread> parameters;
  std::vector<NamedSpread> derived;
  /// By the constraint that each decides, simulated on an ordinary supply: "continuous_current" (uncut),
  /// "repetitive_peak" (leading edge at 90 degrees), "surge_peak", "surge_i2t" (cold at the crest; the square root).
  std::vector<NamedSpread> load;
};

/// A sample that no family describes, or not the common one, has no part in the mean.
/// Throws Error{input_refused} as fit_lamp() does, and for no samples.
LampTypeFit fit_lamp_type(std::span<const SampleCaptures> samples, const FitOptions& options = {});

}  // namespace lampload
