// Lines, or rather records: RFC 4180 lets a quoted cell hold line ends.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "read/bytes.hpp"

namespace evenstroke::reading {

/// A thousand columns of 25 characters are a tenth of this; a longer line is no row of a table.
inline constexpr std::size_t max_record_bytes = 1 << 18;

struct Record {
    std::string_view text;   ///< without its line end; valid until the next call
    std::size_t line = 0;    ///< where it begins, counted from 1
    bool terminated = true;  ///< false for a last line without a line end
};

/// Splits a source into records. Line ends: LF with any CR before it, or CR alone when `line_end` is '\r'.
class RecordReader {
  public:
    /// `name` stands for the file in messages; `piece_bytes` is how much is asked for at once.
    RecordReader(ByteSource& source, std::string name, char line_end, std::size_t piece_bytes);
    /// The next record, or empty at the end. Throws Error{malformed} for a record beyond max_record_bytes.
    [[nodiscard]] std::optional<Record> next();

  private:
    bool fill();
    [[noreturn]] void refuse_long(bool inside_quotes) const;

    ByteSource& source_;
    std::string name_;
    char line_end_;
    std::size_t piece_bytes_;
    std::vector<char> buffer_;
    std::size_t begin_ = 0;
    std::size_t end_ = 0;
    std::size_t line_ = 1;
    bool at_end_ = false;
};

/// '\r' when more lines of the text end in a CR without LF than in LF, else '\n'.
[[nodiscard]] char find_line_end(std::string_view text);

}  // namespace evenstroke::reading
