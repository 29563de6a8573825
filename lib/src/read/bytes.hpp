// Where bytes come from: a file, a stream, memory; in pieces, never whole.
#pragma once

#include <cstddef>
#include <iosfwd>
#include <span>
#include <string>

namespace evenstroke::reading {

/// A source that is read once, front to back.
class ByteSource {
  public:
    ByteSource() = default;
    ByteSource(const ByteSource&) = delete;
    ByteSource& operator=(const ByteSource&) = delete;
    virtual ~ByteSource() = default;
    /// Fills at most `into.size()` bytes and returns how many; 0 at the end only. Throws Error{cannot_open}.
    [[nodiscard]] virtual std::size_t read(std::span<char> into) = 0;
};

/// A file by path; "-" is standard input. Throws Error{cannot_open} with the reason.
class FileBytes : public ByteSource {
  public:
    explicit FileBytes(const std::string& path);
    ~FileBytes() override;
    [[nodiscard]] std::size_t read(std::span<char> into) override;
    [[nodiscard]] int descriptor() const { return descriptor_; }
    /// True for something that can be read again from the start (a regular file, also when redirected).
    [[nodiscard]] bool regular() const { return regular_; }

  private:
    std::string path_;
    int descriptor_ = -1;
    bool regular_ = false;
};

class StreamBytes : public ByteSource {
  public:
    StreamBytes(std::istream& stream, std::string name);
    [[nodiscard]] std::size_t read(std::span<char> into) override;

  private:
    std::istream& stream_;
    std::string name_;
};

/// Bytes already taken from `rest`, then `rest` itself.
class PrefixedBytes : public ByteSource {
  public:
    PrefixedBytes(std::span<const char> prefix, ByteSource* rest);
    [[nodiscard]] std::size_t read(std::span<char> into) override;

  private:
    std::span<const char> prefix_;
    ByteSource* rest_;
};

/// UTF-16 turned into UTF-8; half a pair at the end is dropped, a lone surrogate becomes U+FFFD.
class Utf16Bytes : public ByteSource {
  public:
    Utf16Bytes(ByteSource& inner, bool big_endian);
    [[nodiscard]] std::size_t read(std::span<char> into) override;

  private:
    bool next_unit(unsigned& unit);
    void append_next_character();

    ByteSource& inner_;
    bool big_endian_;
    std::string in_;
    std::size_t in_at_ = 0;
    std::string out_;
    bool at_end_ = false;
};

/// Reads until `bytes` are there or the source ends.
[[nodiscard]] std::string read_up_to(ByteSource& source, std::size_t bytes);

/// The character `code_point` in UTF-8, appended.
void append_utf8(std::string& text, unsigned code_point);

}  // namespace evenstroke::reading
