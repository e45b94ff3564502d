#include "core/parallel.h"

#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace lampload {

void in_parallel(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work,
                 const std::function<void(double)>& progress) {
  std::atomic<std::size_t> next = 0;
  // What comes before a failure has been begun by then, and is done: the first failure is the same with any threads.
  std::mutex guard;
  std::exception_ptr failure;
  std::size_t first_failure = count;
  std::atomic<bool> failed = false;
  const auto run = [&](bool reports) {
    while (!failed) {
      const std::size_t k = next++;
      if (k >= count) break;
      try {
        work(k);
      } catch (...) {
        const std::lock_guard lock(guard);
        if (k < first_failure) {
          first_failure = k;
          failure = std::current_exception();
        }
        failed = true;
      }
      if (reports && progress) progress(static_cast<double>(k + 1) / static_cast<double>(count));
    }
  };
  std::vector<std::thread> others;
  for (unsigned t = 1; t < threads && t < count; ++t) others.emplace_back(run, false);
  run(true);
  for (std::thread& other : others) other.join();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace lampload
