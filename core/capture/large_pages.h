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
void ask_for_large_pages(std::vector<T>& values) {
#ifdef MADV_HUGEPAGE
  constexpr std::size_t page = std::size_t{2} << 20U;
  const auto misplaced = static_cast<std::size_t>(reinterpret_cast<std::uintptr_t>(values.data()) % page);
  const std::size_t skipped = (page - misplaced) % page;
  const std::size_t bytes = values.capacity() * sizeof(T);
  if (bytes < skipped + page) return;
  madvise(reinterpret_cast<char*>(values.data()) + skipped, (bytes - skipped) / page * page, MADV_HUGEPAGE);
#endif
}

}  // namespace lampload
