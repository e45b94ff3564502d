#pragma once
// How far the pieces of one lamp type differ from each other: a random-effects model of one quantity,
//
//   y_i = mean + b_i + e_i,   b_i ~ N(0, spread^2),   e_i ~ N(0, u_i^2) with u_i known.
//
// Measured alone, spread^2 is the restricted maximum likelihood estimate: Patterson and Thompson, Biometrika 58 (1971)
// 545; for known u_i, Viechtbauer, J. Educ. Behav. Stat. 30 (2005) 261. A few pieces that happen to be alike would give
// zero. So what is usual takes part as further degrees of freedom, a scaled inverse chi-square prior of spread^2
// (Gelman et al., Bayesian Data Analysis, 3rd ed., sections 2.6 and 5.4), and with u_i = 0 the estimate is
//
//   spread^2 = (prior dof * prior spread^2 + (n - 1) s^2) / (prior dof + n - 1),   s^2: variance of the y_i.
//
// With u_i > 0 the posterior of the spread is integrated numerically. (Publications from memory.)

#include <cstddef>
#include <span>

namespace lampload {

/// One piece: what its captures say, and how sure they are of it. An error that all pieces share (the instrument's
/// scale) is not to be in the variance: it is no difference between pieces.
struct PieceValue {
  double value = 0.0;
  double variance = 0.0;  ///< u_i^2
};

/// What is usual, in the unit of the values.
struct UsualSpread {
  double spread = 0.05;           ///< one standard deviation; of logarithms: 5 % (common practice, no source)
  double degrees_of_freedom = 3;  ///< how many further pieces it counts as (common practice, no source)
};

struct PieceSpread {
  std::size_t pieces = 0;
  double spread = 0.0;    ///< between pieces, one standard deviation: 1/sqrt of the posterior mean of 1/spread^2
  double lower_95 = 0.0;  ///< of the spread, equal tails
  double upper_95 = 0.0;
  double measured = 0.0;     ///< restricted maximum likelihood alone; 0 with one piece
  double usual_share = 1.0;  ///< of what is known of the spread, what the usual one brings
  double mean = 0.0;         ///< at `spread`
  double mean_sd = 0.0;      ///< likewise, in repeated choices of as many pieces
  double coverage_95 =
      0.0;  ///< half of the mean's 95 % interval over mean_sd: 1.96, and more while the spread is vague
};

/// Throws Error{input_refused} for no piece, a value that is not finite or a negative variance.
PieceSpread piece_spread(std::span<const PieceValue> pieces, const UsualSpread& usual = {});

}  // namespace lampload
