#pragma once
// Where a curve is highest: looked for on a grid, then closer around the best point of it.

#include <functional>
#include <span>

namespace lampload {

/// The abscissa, within about `resolution`, of the highest point of a curve near the best point of an ascending grid
/// (one abscissa or more). `roughly` says the curve's height on the grid, `closely` around its best point. Ties go to
/// the lowest abscissa.
double peak_of(std::span<const double> grid, const std::function<double(double)>& roughly,
               const std::function<double(double)>& closely, double resolution);

/// The highest value of a curve known at ascending abscissas (one or more), by the parabola through the highest of them
/// and its neighbours.
double highest_between(std::span<const double> x, std::span<const double> y);

}  // namespace lampload
