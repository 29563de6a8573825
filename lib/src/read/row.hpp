// One data row into a time stamp and samples; refuses what is neither, with line and column.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "read/records.hpp"
#include "read/table.hpp"

namespace evenstroke::reading {

class RowParser {
  public:
    RowParser(const Table& table, std::string name);

    /// Fills `time`, `time_text` and `samples`. False for a blank line or a remark (#).
    /// Throws Error{malformed}: ragged row, text in a number, a time that is no number.
    [[nodiscard]] bool parse(const Record& record);
    /// True when a last line without a line end holds too few cells: the file was cut off in it.
    [[nodiscard]] bool cut_off(const Record& record);

    double time = 0;             ///< in the column's unit; seconds for dates
    std::string_view time_text;  ///< as printed; valid as long as the record
    std::vector<float> samples;  ///< [value columns]: numbers, NaN, infinities, over_range_unsigned

  private:
    enum class Role { ignored, time, value };
    /// What a column has held so far.
    struct Written {
        bool measured = false;    ///< a number other than 0 and 1
        std::string level_place;  ///< of the first level in words; empty: none
        std::string level;
    };
    bool parse_row(const Record& record);
    void refuse_mixed_levels();
    bool parse_fast(std::string_view text);
    [[nodiscard]] Cell number_in(std::string_view cell, std::size_t column) const;
    void parse_slow(const Record& record);
    void take_time(std::string_view cell, const Record& record, std::size_t column);
    [[nodiscard]] std::string place(const Record& record, std::size_t column) const;
    [[nodiscard]] std::string column_name(std::size_t column) const;

    const Table& table_;
    std::string name_;
    std::vector<Role> roles_;
    std::vector<std::string_view> cells_;
    std::optional<DateTime> first_moment_;
    bool fast_;
    std::vector<Written> written_;  ///< [value columns]
};

}  // namespace evenstroke::reading
