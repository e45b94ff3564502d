#include "fit/parallel.h"

#include <atomic>
#include <exception>
#include <thread>
#include <vector>

namespace lampload {

void in_parallel(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work,
                 const std::function<void(double)>& progress) {
  std::atomic<std::size_t> next = 0;
  std::exception_ptr failure;
  std::atomic<bool> failed = false;
  const auto run = [&](bool reports) {
    for (std::size_t k = next++; k < count && !failed; k = next++) {
      try {
        work(k);
      } catch (...) {
        if (!failed.exchange(true)) failure = std::current_exception();
      }
      if (reports && progress) progress(static_cast<double>(k + 1) / static_cast<double>(count));
    }
  };
  std::vector<std::thread> others;
  for (unsigned t = 1; t < threads; ++t) others.emplace_back(run, false);
  run(true);
  for (std::thread& other : others) other.join();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace lampload
