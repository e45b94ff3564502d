#pragma once
// How far the lamps on a channel may be from the fitted one because pieces of one type differ. Relative, one standard
// deviation.

#include <string>

namespace lampload {

/// Of currents, between pieces of one lamp type, where nothing is measured (common practice, no source).
inline constexpr double usual_spread = 0.05;

/// Standard deviations to the end of what is reckoned with: about 95 % of a normal spread lie within (JCGM 100).
inline constexpr double coverage = 2.0;

/// Of one load figure, between pieces.
struct FigureSpread {
  double spread = usual_spread;
  double lower_95 = 0.0;  ///< of the spread; both 0 where it is the usual one
  double upper_95 = 0.0;
};

struct LoadSpread {
  int samples = 1;                 ///< pieces measured
  std::string source = "default";  ///< of the spread: "default" (the usual one), "mixture" of both, "measured"
  FigureSpread continuous_current;
  FigureSpread repetitive_peak;
  FigureSpread surge_peak;
  FigureSpread surge_i2t;  ///< of its square root, which goes with the current

  /// By the constraint that it decides; null: no such figure.
  [[nodiscard]] FigureSpread* figure(const std::string& name);

  /// From the mean of the measured pieces to a lamp as bad as one of the type may be; peaks are taken as if all on the
  /// channel were such lamps. With one piece measured nobody can tell how far that piece is from the mean and how far
  /// others are: what is usual counts once, whole.
  [[nodiscard]] double of_one(const FigureSpread& figure) const;
  /// From the mean of the measured pieces to that of `count` lamps, which heating follows: differences between lamps
  /// average out. With one piece measured nothing averages out.
  [[nodiscard]] double of_mean(const FigureSpread& figure, int count) const;
};

}  // namespace lampload
