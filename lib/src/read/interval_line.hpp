// Lines above the numbers that say how far apart the samples are.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "read/columns.hpp"

namespace evenstroke::reading {

/// Seconds between samples from a line such as "Sample interval,0.0001", "Interval (s); 1e-4" or
/// "Sample rate: 10 kHz"; empty when the line says neither. Zero or less comes back as 0.
struct IntervalLine {
    double interval_s = 0;
    bool names_samples = false;  ///< "Sample rate", not just "Rate"
};
[[nodiscard]] std::optional<IntervalLine> interval_line(std::string_view line, char decimal);

/// An interval that stands as a title beyond the columns, its number below it in the last line above the
/// rows: "X,CH1,Start,Increment" over "Sequence,Volt,-0.15,0.0005".
struct SettingCells {
    std::size_t titles_at = 0;  ///< index of the upper of the two lines
    std::size_t from_cell = 0;  ///< of both lines, what is no column's
    double interval_s = 0;
};
[[nodiscard]] std::optional<SettingCells> setting_cells(const std::vector<HeadLine>& lines,
                                                        const RowBlock& block);

/// What the lines above the rows say together.
struct FoundInterval {
    double interval_s = 0;
    std::size_t line = 0;              ///< that said so
    std::optional<std::string> doubt;  ///< another line, or another channel in this one, says otherwise
};

/// The first line that names the samples, else the first that speaks of a rate or an interval alone.
/// Throws Error{malformed} when it gives nothing above 0; `name` stands for the file.
[[nodiscard]] std::optional<FoundInterval> find_interval(const std::vector<HeadLine>& lines,
                                                         const RowBlock& block, const std::string& name);
/// The first line above the rows that gives a number for a rate or an interval, used or not.
[[nodiscard]] std::optional<std::size_t> unused_interval_line(const std::vector<HeadLine>& lines,
                                                              const RowBlock& block);

}  // namespace evenstroke::reading
