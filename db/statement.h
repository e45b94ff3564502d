#pragma once
// Binding and reading a statement's columns one after the other.

#include <SQLiteCpp/SQLiteCpp.h>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace lampload {

/// Binds values in the order of the statement's question marks. Blobs must live until the statement has run.
class Bind {
 public:
  explicit Bind(SQLite::Statement& statement) : statement_(statement) {}

  Bind& operator()(double value) { return put(value); }
  Bind& operator()(std::int64_t value) { return put(value); }
  Bind& operator()(const std::string& value) { return put(value); }
  Bind& operator()(bool value) { return put(static_cast<std::int64_t>(value)); }
  template <class T>
  Bind& operator()(const std::optional<T>& value) {
    if (value) return (*this)(*value);
    statement_.bind(next_++);
    return *this;
  }
  Bind& blob(std::string_view bytes) {
    statement_.bindNoCopy(next_++, bytes.data(), static_cast<int>(bytes.size()));
    return *this;
  }

 private:
  template <class T>
  Bind& put(const T& value) {
    statement_.bind(next_++, value);
    return *this;
  }

  SQLite::Statement& statement_;
  int next_ = 1;
};

/// Whatever type it has. A blob must live until the statement has run.
inline void bind_as_it_is(SQLite::Statement& statement, int place, const SQLite::Column& value) {
  if (value.isInteger()) {
    statement.bind(place, value.getInt64());
  } else if (value.isFloat()) {
    statement.bind(place, value.getDouble());
  } else if (value.isText()) {
    statement.bind(place, value.getString());
  } else if (value.isBlob()) {
    // an empty blob has no address, which would be bound as NULL
    statement.bindNoCopy(place, value.getBytes() > 0 ? value.getBlob() : "", value.getBytes());
  } else {
    statement.bind(place);
  }
}

/// Reads the columns of the present row in their order.
class Row {
 public:
  explicit Row(SQLite::Statement& statement) : statement_(statement) {}

  Row& operator()(double& value) {
    return take([&](const SQLite::Column& c) { value = c.getDouble(); });
  }
  Row& operator()(std::int64_t& value) {
    return take([&](const SQLite::Column& c) { value = c.getInt64(); });
  }
  Row& operator()(int& value) {
    return take([&](const SQLite::Column& c) { value = c.getInt(); });
  }
  Row& operator()(bool& value) {
    return take([&](const SQLite::Column& c) { value = c.getInt() != 0; });
  }
  Row& operator()(std::string& value) {
    return take([&](const SQLite::Column& c) { value = c.getString(); });
  }
  template <class T>
  Row& operator()(std::optional<T>& value) {
    value.reset();
    if (statement_.isColumnNull(next_)) {
      ++next_;
      return *this;
    }
    return (*this)(value.emplace());
  }

 private:
  template <class Read>
  Row& take(Read read) {
    read(statement_.getColumn(next_++));
    return *this;
  }

  SQLite::Statement& statement_;
  int next_ = 0;
};

}  // namespace lampload
