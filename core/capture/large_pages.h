#pragma once
// Large arrays in large pages, where the system has them: a page that is touched for the first time costs more than the
// numbers that are put into it.

#include <sys/mman.h>

#include <cstddef>
#include <cstdint>
#include <vector>

namespace lampload {

/// Asks for large pages for what a vector has reserved. A request: nothing changes where it is not granted.
template <class T>
void ask_for_large_pages(const std::vector<T>& values) {
  constexpr std::uintptr_t page = std::uintptr_t{2} << 20U;
  const auto from = reinterpret_cast<std::uintptr_t>(values.data());
  const std::uintptr_t to = from + values.capacity() * sizeof(T);
  const std::uintptr_t first = (from + page - 1) / page * page;
  const std::uintptr_t last = to / page * page;
  if (first >= last) return;
#ifdef MADV_HUGEPAGE
  madvise(reinterpret_cast<void*>(first), last - first, MADV_HUGEPAGE);
#endif
}

}  // namespace lampload
