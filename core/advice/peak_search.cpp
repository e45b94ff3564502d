#include "core/advice/peak_search.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace lampload {
namespace {

constexpr int most_trials = 6;
constexpr double edge_share = 0.25;  // of the first step inwards, where the best point is an end of the grid

struct CurvePoint {
  double x, y;
};

/// Where the parabola through three points is highest; the middle one where it is not bent downwards.
double vertex(const CurvePoint& a, const CurvePoint& b, const CurvePoint& c) {
  const double left = (b.y - a.y) / (b.x - a.x);
  const double right = (c.y - b.y) / (c.x - b.x);
  if (!(right < left)) return b.x;
  return 0.5 * (a.x + b.x) - 0.5 * left * (c.x - a.x) / (right - left);
}

}  // namespace

double peak_of(std::span<const double> grid, const std::function<double(double)>& roughly,
               const std::function<double(double)>& closely, double resolution) {
  std::vector<CurvePoint> points;
  std::size_t best = 0;
  for (const double x : grid) {
    points.push_back({x, roughly(x)});
    if (points.back().y > points[best].y) best = points.size() - 1;
  }
  if (points.size() == 1) return points[0].x;
  // the best point and its neighbours, by the closer look alone
  const std::size_t first = best > 0 ? best - 1 : 0;
  const std::size_t last = std::min(best + 1, points.size() - 1);
  points = {points.begin() + static_cast<std::ptrdiff_t>(first),
            points.begin() + static_cast<std::ptrdiff_t>(last) + 1};
  // a curve with a cliff is highest beside it, where no parabola points: half steps on both sides before one is tried
  const double centre = grid[best];
  if (best > 0) points.push_back({0.5 * (grid[best - 1] + centre), 0.0});
  if (best + 1 < grid.size()) points.push_back({0.5 * (grid[best + 1] + centre), 0.0});
  std::sort(points.begin(), points.end(), [](const CurvePoint& a, const CurvePoint& b) { return a.x < b.x; });
  for (CurvePoint& point : points) point.y = closely(point.x);
  const auto higher = [](const CurvePoint& a, const CurvePoint& b) { return a.y < b.y; };
  for (int trial = 0; trial < most_trials; ++trial) {
    best = static_cast<std::size_t>(std::max_element(points.begin(), points.end(), higher) - points.begin());
    const CurvePoint at = points[best];
    double next = at.x;
    if (best == 0) {
      next += edge_share * (points[1].x - at.x);
    } else if (best + 1 == points.size()) {
      next -= edge_share * (at.x - points[best - 1].x);
    } else {
      const CurvePoint& before = points[best - 1];
      const CurvePoint& after = points[best + 1];
      next = vertex(before, at, after);
      if (std::abs(next - at.x) < 0.5 * resolution) {
        // is it there, or does a lopsided curve only look like it? Once more on the longer side
        const bool right = after.x - at.x > at.x - before.x;
        const double side = right ? after.x - at.x : at.x - before.x;
        if (side <= 2.0 * resolution) break;
        next = at.x + (right ? 1.0 : -1.0) * std::max(resolution, 0.2 * side);
      }
    }
    if (std::abs(next - at.x) < 0.5 * resolution) break;
    const auto where = std::find_if(points.begin(), points.end(), [&](const CurvePoint& p) { return p.x > next; });
    points.insert(where, {next, closely(next)});
  }
  return std::max_element(points.begin(), points.end(), higher)->x;
}

double highest_between(std::span<const double> x, std::span<const double> y) {
  const auto best = static_cast<std::size_t>(std::max_element(y.begin(), y.end()) - y.begin());
  if (best == 0 || best + 1 == y.size()) return y[best];
  const CurvePoint a{x[best - 1], y[best - 1]};
  const CurvePoint b{x[best], y[best]};
  const CurvePoint c{x[best + 1], y[best + 1]};
  const double left = (b.y - a.y) / (b.x - a.x);
  const double bend = ((c.y - b.y) / (c.x - b.x) - left) / (c.x - a.x);
  const double at = vertex(a, b, c);
  return std::max(b.y, a.y + (at - a.x) * (left + bend * (at - b.x)));
}

}  // namespace lampload
