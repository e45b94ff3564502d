// Gives every file of tests/fuzz/corpus/TARGET to its target, without libFuzzer: what was once found stays mended.
#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "tests/fuzz/targets.h"

int main(int count, char** words) {
  if (count != 2) {
    std::fprintf(stderr, "usage: fuzz_replay CORPUS\n");
    return 2;
  }
  for (const auto& target : lampload::fuzz::targets()) {
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(std::filesystem::path(words[1]) / target.name)) {
      files.push_back(entry.path());
    }
    std::sort(files.begin(), files.end());
    if (files.empty()) {
      std::fprintf(stderr, "no inputs for %s\n", std::string(target.name).c_str());
      return 1;
    }
    for (const auto& file : files) {
      std::printf("%s\n", file.c_str());
      std::fflush(stdout);  // the last one named is the one that failed
      std::ifstream in(file, std::ios::binary);
      target.run(std::string(std::istreambuf_iterator<char>(in), {}));
    }
  }
  return 0;
}
