#pragma once
// Independent pieces of work on several threads.

#include <cstddef>
#include <functional>

namespace lampload {

/// Runs work(0 .. count-1) on some threads; which thread does what has no influence on results. progress is called by
/// this thread, and may be empty. What work throws is thrown here.
void in_parallel(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work,
                 const std::function<void(double)>& progress = {});

}  // namespace lampload
