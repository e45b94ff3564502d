#pragma once
// Inputs that have to be refused: an invented record, damaged in one place each, and what is said of it.

#include <string>
#include <utility>
#include <vector>

namespace lampload::test {

struct BadInput {
  std::string name;
  std::vector<std::pair<std::string, std::string>> files;  ///< name and bytes; the first one is the capture
  std::string message;                                     ///< part of it
  std::vector<std::string> options = {};
  std::size_t line = 0;      ///< that is named; 0: none is asked for
  std::string capture = {};  ///< how the capture is named, where it is not the first file
};

std::vector<BadInput> bad_tables();
std::vector<BadInput> bad_choices();
std::vector<BadInput> bad_layout_files();
std::vector<BadInput> bad_wav_files();
std::vector<BadInput> bad_comtrade_records();
std::vector<BadInput> bad_numpy_arrays();
std::vector<BadInput> bad_forms();
std::vector<BadInput> bad_pairs();

}  // namespace lampload::test
