#include "read/time_column.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "evenstroke/error.hpp"
#include "evenstroke/units.hpp"

namespace evenstroke::reading {

namespace {

/// A step within this of the interval that a line gives is the same step.
constexpr double same_step_ratio = 0.05;
constexpr double seconds_per_day = 86400;

/// A column as it could be the time.
struct Candidate {
    std::size_t column = 0;
    int rank = 0;  ///< 0: nothing says that it is time
    bool is_date = false;
    std::vector<double> seconds;  ///< of the first rows
    [[nodiscard]] bool advances() const { return is_date || rises(seconds); }
};

std::vector<double> date_seconds(const std::vector<HeadLine>& lines, const RowBlock& block,
                                 std::size_t column, std::size_t most) {
    std::vector<double> seconds;
    std::vector<std::string_view> cells;
    for (std::size_t i = block.first_row; i < lines.size() && seconds.size() < most; ++i) {
        split(lines[i].text, block.dialect.delimiter, cells);
        if (cells.size() != block.columns) continue;
        if (const auto moment = parse_date_time(cells[column]))
            seconds.push_back(moment->day.value_or(0) * seconds_per_day + moment->second);
    }
    return seconds;
}

double mean_step(const std::vector<double>& values) {
    return (values.back() - values.front()) / static_cast<double>(values.size() - 1);
}

bool agrees(const std::vector<double>& seconds, const std::optional<double>& interval_s) {
    return !interval_s || std::abs(mean_step(seconds) / *interval_s - 1) < same_step_ratio;
}

Candidate look_at(const std::vector<HeadLine>& lines, const RowBlock& block, const ColumnTitle& title,
                  std::size_t column, std::string_view first_cell) {
    constexpr std::size_t rows_compared = 500;
    Candidate candidate{.column = column, .rank = time_rank(title), .seconds = {}};
    candidate.is_date = parse_cell(first_cell, block.dialect.decimal).kind == CellKind::text &&
                        parse_date_time(first_cell).has_value();
    if (candidate.is_date) {
        candidate.rank = std::max(candidate.rank, time_word_rank);
        candidate.seconds = date_seconds(lines, block, column, rows_compared);
    } else if (candidate.rank > 0) {
        candidate.seconds = column_values(lines, block, column);
        const auto unit = find_unit(title.unit);
        for (double& second : candidate.seconds) second *= unit ? unit->factor : 1;
    }
    return candidate;
}

/// Titled alike but for a number: "Time 1" and "Time 2".
bool same_title(const ColumnTitle& one, const ColumnTitle& other) {
    const auto word = [](const ColumnTitle& title) {
        return lower(title.name.substr(0, title.name.find_last_not_of(" _#0123456789") + 1));
    };
    return word(one) == word(other);
}

/// By how much a clock's stamps may lag: where they repeat, by the step that they then take. 0 when they do
/// not repeat; a second when they never move, for a clock shows seconds at least.
double lag_s(const Candidate& clock) {
    if (!clock.is_date) return 0;
    double largest_s = 0;
    bool repeats = false;
    for (std::size_t i = 1; i < clock.seconds.size(); ++i) {
        const double step_s = clock.seconds[i] - clock.seconds[i - 1];
        repeats = repeats || step_s == 0;
        largest_s = std::max(largest_s, step_s);
    }
    return !repeats ? 0 : largest_s > 0 ? largest_s : 1;
}

/// Equal within half a step: printing in another unit shifts a stamp by less. When `from_first`, counted from
/// the first stamp of each: a clock or an epoch beside elapsed time.
bool same_times(const Candidate& one, const Candidate& other, bool from_first) {
    if (one.seconds.size() != other.seconds.size() || one.seconds.size() < 2) return false;
    const double most_s = mean_step(one.seconds) / 2 + (from_first ? std::max(lag_s(one), lag_s(other)) : 0);
    const double apart_s = from_first ? other.seconds.front() - one.seconds.front() : 0;
    return std::equal(one.seconds.begin(), one.seconds.end(), other.seconds.begin(),
                      [=](double a, double b) { return std::abs(b - a - apart_s) <= most_s; });
}

[[noreturn]] void refuse_two_times(const std::vector<ColumnTitle>& titles, std::size_t one, std::size_t other,
                                   const std::string& place) {
    throw Error(ErrorCode::malformed, place,
                fmt::format("columns {} ({}) and {} ({}) could both be the time, but differ", one + 1,
                            titles[one].name, other + 1, titles[other].name),
                "export all channels with one time column; a column that is not time needs its unit in the "
                "title, as in \"T (\xC2\xB0"
                "C)\"");
}

/// The further columns of time. Beside the time column a clock or a date may tell the same otherwise; behind
/// a channel it must advance by the same amounts, and a column of the same title must hold equal times, for
/// they may be that channel's own.
std::vector<std::size_t> further_times(const std::vector<Candidate>& candidates, const Candidate& time,
                                       const std::vector<ColumnTitle>& titles, const std::string& place) {
    std::vector<std::size_t> further;
    const int least_rank = std::min(time.rank, time_word_rank);
    const auto counts = [&](const Candidate& c) { return c.rank >= least_rank && c.advances(); };
    for (const Candidate& candidate : candidates) {
        if (candidate.column == time.column || !counts(candidate)) continue;
        const auto [first, last] = std::minmax(candidate.column, time.column);
        const bool beside = candidate.rank >= time_word_rank &&
                            std::all_of(candidates.begin() + static_cast<std::ptrdiff_t>(first),
                                        candidates.begin() + static_cast<std::ptrdiff_t>(last) + 1, counts);
        const bool otherwise =
            time.is_date != candidate.is_date || !same_title(titles[time.column], titles[candidate.column]);
        if (!beside && !same_times(time, candidate, otherwise))
            refuse_two_times(titles, std::min(time.column, candidate.column),
                             std::max(time.column, candidate.column), place);
        further.push_back(candidate.column);
    }
    return further;
}

/// A bare "X" over a running number, where a line above gives the interval: the number of the sample.
bool counts_instead(const std::vector<HeadLine>& lines, const RowBlock& block, const Candidate& candidate,
                    const std::optional<double>& line_interval_s) {
    return line_interval_s && candidate.rank == weak_time_rank && candidate.advances() &&
           !agrees(candidate.seconds, line_interval_s) &&
           counts_by_one(column_values(lines, block, candidate.column));
}

void refuse_unknown_unit(const ColumnTitle& title, std::size_t column, const std::string& place) {
    const std::string unit = unknown_time_unit(title);
    if (unit.empty()) return;
    throw Error(ErrorCode::malformed, place,
                fmt::format("column {} ({}) has the unit \"{}\", which is not a known unit of time",
                            column + 1, title.name, unit),
                "title the time in s, ms, us, ns or min, as in \"Time (ms)\"");
}

/// The first column of a table without titles: time, a running number, or neither.
void judge_untitled(const std::vector<double>& values, const std::optional<double>& interval_s,
                    TimeColumns& found) {
    if (!rises(values)) return;
    if (counts_by_one(values))
        found.index = 0;
    else if (agrees(values, interval_s))
        found.time = 0;
}

}  // namespace

TimeColumns find_time(const std::vector<HeadLine>& lines, const RowBlock& block,
                      const std::vector<ColumnTitle>& titles, std::optional<double> line_interval_s,
                      std::optional<double> given_interval_s, const std::string& place) {
    std::vector<std::string_view> cells;
    split(lines[block.first_row].text, block.dialect.delimiter, cells);
    std::vector<Candidate> candidates;
    const Candidate* time = nullptr;
    for (std::size_t c = 0; c < titles.size(); ++c)
        candidates.push_back(look_at(lines, block, titles[c], c, cells[c]));
    for (const Candidate& candidate : candidates) {
        const bool by_word = candidate.rank >= time_word_rank || names_time(titles[candidate.column].name);
        if (candidate.rank == 0 ||
            (!by_word && !(candidate.advances() && agrees(candidate.seconds, line_interval_s))))
            continue;  // a unit of time alone: a duration may be a channel
        if (counts_instead(lines, block, candidate, line_interval_s)) continue;
        const auto merit = [](const Candidate& c) { return std::pair(c.rank, c.advances()); };
        if (time == nullptr || merit(candidate) > merit(*time)) time = &candidate;
    }
    TimeColumns found;
    if (time == nullptr && !given_interval_s)
        for (std::size_t c = 0; c < titles.size(); ++c) refuse_unknown_unit(titles[c], c, place);
    if (time != nullptr && !time->is_date) refuse_unknown_unit(titles[time->column], time->column, place);
    if (time != nullptr) {
        found.time = time->column;
        found.is_date = time->is_date;
        found.said_again = further_times(candidates, *time, titles, place);
    } else if (names_index(titles[0].name) ||
               (!candidates.empty() && counts_instead(lines, block, candidates[0], line_interval_s))) {
        found.index = 0;
    } else if (titles[0].name.empty() && titles.size() >= 2) {
        judge_untitled(column_values(lines, block, 0), given_interval_s, found);
    }
    return found;
}

}  // namespace evenstroke::reading
