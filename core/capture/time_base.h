#pragma once
// From the time stamps of a file to equidistant samples.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "core/capture/capture.h"
#include "core/capture/large_pages.h"

namespace lampload {

/// Time stamps as they were read, and where they stood.
class Stamps {
 public:
  void reserve(std::size_t count) {
    time_s_.reserve(count);
    ask_for_large_pages(time_s_);
  }
  void add(double time_s, std::size_t line) {
    if (line != next_line_) runs_.push_back({time_s_.size(), line});
    next_line_ = line + 1;
    time_s_.push_back(time_s);
  }
  [[nodiscard]] std::size_t size() const { return time_s_.size(); }
  [[nodiscard]] const std::vector<double>& time_s() const { return time_s_; }
  /// 1-based line of the file (or number of the sample) of a stamp.
  [[nodiscard]] std::size_t line_of(std::size_t stamp) const;
  /// Leaves only the stamps from..to-1.
  void keep(std::size_t from, std::size_t to);
  /// Leaves out the stamps that are marked, one mark a stamp.
  void leave_out(const std::vector<bool>& marked);

 private:
  struct Run {
    std::size_t stamp;
    std::size_t line;
  };
  std::vector<double> time_s_;
  std::vector<Run> runs_;  ///< stamps on consecutive lines
  std::size_t next_line_ = 0;
};

/// Median of the steps forward, of long records of some of them. 0: there is none.
double median_step(const std::vector<double>& time_s);

/// Of a record in several stretches (time starts over, or jumps by more than ten samples, or the file says so:
/// `begins`) keeps the one that is asked for, 1-based. stamps may be empty: the samples are equidistant. Throws
/// Error{input_refused} where nobody asked, and where time is damaged rather than in stretches.
void keep_segment(std::optional<int> segment, const std::vector<std::size_t>& begins, Stamps& stamps, Capture& capture);

/// What a file says of its clock beside its stamps.
struct StatedClock {
  std::optional<double> start_s;
  std::optional<double> interval_s;
};

/// Finds start and interval, from first to last, or as stated where the stamps agree to a thousandth of a sample;
/// leaves out rows that are there twice; where the stamps are not those of a uniform clock, resamples both channels (an
/// empty one is left out) linearly. All of it is said in notes. Throws Error{input_refused} where the stamps make no
/// sense.
void make_uniform(Stamps stamps, const StatedClock& stated, Capture& capture);

}  // namespace lampload
