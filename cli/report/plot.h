#pragma once
// Plots as the page's script draws them, and how samples are made few enough for it.

#include <span>
#include <string>
#include <vector>

namespace lampload {

/// How a line looks; page.css has the colours.
enum class Role { voltage, measured, model, residual, second };

struct PlotSeries {
  std::string label;
  Role role = Role::measured;
  std::vector<double> x = {};  ///< rising; not looked at where the series is sampled
  std::vector<double> y = {};
  double x0 = 0.0;  ///< of the first of equidistant samples
  double dx = 0.0;  ///< 0: x is given
};

struct PlotLevel {
  std::string label;
  double value = 0.0;
};

struct PlotPanel {
  std::string label;
  std::string unit;
  int height = 150;  ///< pixels
  std::vector<PlotSeries> series;
  std::vector<PlotLevel> levels;
};

struct Plot {
  enum class Kind { lines, steps, bars };
  Kind kind = Kind::lines;
  std::string title;
  std::string x_label;
  std::string x_unit;
  std::vector<double> x_ticks;  ///< empty: where they fit
  std::vector<double> shown;    ///< part shown at first; empty: all
  bool zoom = false;
  std::vector<PlotPanel> panels;
};

/// Lowest and highest of each of at most `buckets` equal stretches; nothing between them is left out. Every sample
/// where there are no more than twice as many.
struct Decimated {
  bool envelope = false;
  double step = 1.0;           ///< samples of a stretch
  std::vector<double> values;  ///< lowest and highest in turn, or the samples
};
Decimated decimated(std::span<const double> samples, std::size_t buckets);

/// {"plots":[...]} for the script. Sampled series are kept in 16-bit steps of their range, in at most `buckets`
/// stretches.
std::string plots_json(const std::vector<Plot>& plots, std::size_t buckets);

}  // namespace lampload
