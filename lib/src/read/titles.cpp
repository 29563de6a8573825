#include "read/titles.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "evenstroke/units.hpp"
#include "read/interval_line.hpp"

namespace evenstroke::reading {

namespace {

using Cells = std::vector<std::string>;

/// Written in digits: "High" may be a title.
bool in_digits(std::string_view text, char decimal) {
    const Cell cell = parse_cell(text, decimal);
    return cell.kind == CellKind::number && !cell.level_word;
}

/// A number, or a setting that begins with one ("10 V", "-.5", "2026-03-02"): no title.
bool is_value(std::string_view cell, char decimal) {
    if (in_digits(cell, decimal)) return true;
    std::string_view text = trim(cell);
    text.remove_prefix(std::min(text.find_first_not_of("\"+-."), text.size()));
    return !text.empty() && is_digit(text.front());
}

bool is_stamp(std::string_view cell, char decimal) {
    return in_digits(cell, decimal) || parse_date_time(cell).has_value();
}

bool all_stamps(const std::vector<std::string_view>& cells, char decimal) {
    return std::all_of(cells.begin(), cells.end(),
                       [decimal](std::string_view cell) { return is_stamp(cell, decimal); });
}

std::optional<std::size_t> time_title(const Cells& cells) {
    std::optional<std::size_t> best;
    int best_rank = 0;
    for (std::size_t c = 0; c < cells.size(); ++c)
        if (const int rank = time_rank(split_title(cells[c])); rank > best_rank) {
            best = c;
            best_rank = rank;
        }
    return best;
}

/// The search for the titles of one block of rows.
class Search {
  public:
    Search(const std::vector<HeadLine>& lines, const RowBlock& block)
        : lines_(lines),
          block_(block),
          columns_in_use_(columns_in_use(lines, block)),
          settings_(setting_cells(lines, block)) {}

    FoundTitles run() {
        walk_up();
        FoundTitles found;
        found.titles.assign(block_.columns, {});
        for (std::size_t c = 0; c < titles_.size(); ++c) found.titles[c] = split_title(titles_[c]);
        if (titles_.empty() && unmatched_) found.unused = say_unmatched(found.titles);
        for (std::size_t c = 0; c < units_.size(); ++c) {
            std::string_view unit = trim(units_[c]);
            if (unit.size() > 2 && (unit.front() == '(' || unit.front() == '['))
                unit = trim(unit.substr(1, unit.size() - 2));
            if (!unit.empty()) found.titles[c].unit = std::string(unit);
        }
        found.first_row = first_row();
        return found;
    }

  private:
    void walk_up() {
        const char delimiter = block_.dialect.delimiter;
        const char decimal = block_.dialect.decimal;
        bool next_to_rows = true;  // but for blank lines, units and damaged rows
        for (std::size_t i = block_.first_row; i-- > 0;) {
            const std::string_view text = lines_[i].text;
            if (trim(text).empty()) continue;
            // Between blanks every sentence is a row of cells.
            if (delimiter == ' ' && !next_to_rows) return;
            if (could_be_row(text)) continue;
            const auto cells = fitted(i);
            if (cells && units_.empty() && (is_unit_row(*cells) || counts_under_titles(*cells, i))) {
                units_ = *cells;
                units_at_ = i;
                continue;
            }
            const bool setting = interval_line(text, decimal).has_value();
            if (cells && !setting && speaks_of_channels(*cells, decimal) &&
                (titles_.empty() || time_agrees(*cells))) {
                titles_ = *cells;
                titles_at_ = i;
                return;
            }
            // "Points,6000": a remark, not titles, unless the first names time.
            const bool remark = cells && block_.columns > 1 && !names_time(split_title((*cells)[0]).name) &&
                                in_digits((*cells)[1], decimal);
            if (cells && next_to_rows && !setting && !remark) {
                titles_ = *cells;
                titles_at_ = i;
            }
            if (!cells && !setting && !unmatched_ && look_like_titles(text, next_to_rows)) unmatched_ = i;
            next_to_rows = false;
        }
    }

    /// "Sequence,Volt" under "X,CH1": units, of which a running number has a word of its own.
    [[nodiscard]] bool counts_under_titles(const Cells& cells, std::size_t line) const {
        if (line == 0 || lower(trim(cells[0])) != "sequence") return false;
        const auto above = fitted(line - 1);
        Cells rest = cells;
        rest[0].clear();
        return above && names_time(split_title((*above)[0]).name) && is_unit_row(rest);
    }

    /// As wide as a row and beginning with a number (or a damaged one before numbers), or numbers only.
    [[nodiscard]] bool could_be_row(std::string_view text) const {
        std::vector<std::string_view> cells;
        split(text, block_.dialect.delimiter, cells);
        const char decimal = block_.dialect.decimal;
        if (cells.size() == block_.columns)
            return is_stamp(cells[0], decimal) || (cells.size() > 1 && is_value(cells[0], decimal) &&
                                                   all_stamps({cells.begin() + 1, cells.end()}, decimal));
        return cells.size() > 1 && all_stamps(cells, decimal);
    }

    /// The line's cells, brought to the number of columns when it is plain how: empty cells at the end, of
    /// the line or of the rows; a title with the delimiter and a blank in it; rows that begin with their
    /// number.
    [[nodiscard]] std::optional<Cells> fitted(std::size_t line) const {
        const std::string_view text = lines_[line].text;
        const char delimiter = block_.dialect.delimiter;
        const std::size_t columns = block_.columns;
        Cells cells = header_cells(text, delimiter);
        if (settings_ && (line == settings_->titles_at || line == settings_->titles_at + 1))
            cells.resize(std::min(cells.size(), settings_->from_cell));
        for (const char other : {'\t', ';', ','})  // the titles may be parted by another mark than the rows
            if (cells.size() != columns)
                if (auto parted = header_cells(text, other); parted.size() == columns) cells = parted;
        while (cells.size() > columns && trim(cells.back()).empty()) cells.pop_back();
        if (cells.size() > columns) join_parted(text, cells);
        if (cells.size() < columns && cells.size() >= columns_in_use_) cells.resize(columns);
        if (cells.size() + 1 == columns && counts_by_one(column_values(lines_, block_, 0))) {
            Cells numbered = cells;
            numbered.insert(numbered.begin(), "");
            if (time_agrees(numbered)) return numbered;
        }
        if (cells.size() != columns) return std::nullopt;
        return cells;
    }

    /// "Clamp, 600 A" without quotes: a cell that begins with a blank goes on with the one before, when that
    /// gives the right number.
    void join_parted(std::string_view text, Cells& cells) const {
        if (block_.dialect.delimiter == ' ') return;
        std::vector<std::string_view> raw;
        split(text, block_.dialect.delimiter, raw);
        Cells joined;
        for (const std::string_view cell : raw) {
            if (cell.starts_with(' ') && !joined.empty())
                joined.back() += block_.dialect.delimiter + (" " + to_utf8(unquote(cell)));
            else
                joined.push_back(to_utf8(unquote(cell)));
        }
        if (joined.size() == block_.columns) cells = joined;
    }

    /// The column that these titles call time does rise, or holds dates.
    [[nodiscard]] bool time_agrees(const Cells& cells) const {
        const auto column = time_title(cells);
        if (!column) return false;
        if (rises(column_values(lines_, block_, *column))) return true;
        std::vector<std::string_view> row;
        split(lines_[block_.first_row].text, block_.dialect.delimiter, row);
        return parse_date_time(row[*column]).has_value();
    }

    [[nodiscard]] bool look_like_titles(std::string_view text, bool next_to_rows) const {
        const Cells cells = header_cells(text, block_.dialect.delimiter);
        if (cells.size() < 2 || block_.columns < 2) return false;
        if (speaks_of_channels(cells, block_.dialect.decimal)) return true;
        const bool one_off = cells.size() + 1 == block_.columns || cells.size() == block_.columns + 1;
        return next_to_rows && one_off && block_.dialect.delimiter != ' ' &&
               std::none_of(cells.begin(), cells.end(), [&](const std::string& cell) {
                   return trim(cell).empty() || is_value(cell, block_.dialect.decimal);
               });
    }

    /// The first column is the first, whatever went wrong behind it: when it is time, its title is kept.
    [[nodiscard]] Notice say_unmatched(std::vector<ColumnTitle>& titles) const {
        const Cells cells = header_cells(lines_[*unmatched_].text, block_.dialect.delimiter);
        const bool first_is_time =
            time_title({cells[0]}).has_value() && rises(column_values(lines_, block_, 0));
        if (first_is_time) titles[0] = split_title(cells[0]);
        return {"titles-unused",
                fmt::format("line {} is where titles would be, but has {} cells for {} columns: {}; give "
                            "every column one title, in quotes when it holds the separator",
                            lines_[*unmatched_].line, cells.size(), columns_in_use_,
                            first_is_time ? "only the first, the time's, was used" : "it was not used")};
    }

    /// Rows between the titles and the first sound row, which only a word or a cell too many keeps from being
    /// rows: they must be refused with their line, not passed over, and no row above them either.
    [[nodiscard]] std::size_t first_row() const {
        std::size_t first = block_.first_row;
        const auto heading = std::max(titles_at_, units_at_);
        const std::size_t end = heading ? *heading + 1 : 0;
        // One whose time is no number may stand among them, but no setting. Where a row has one cell, or
        // nothing is above it, a setting may look as a row does.
        const bool told_apart = heading && block_.columns > 1;
        for (std::size_t i = block_.first_row; i-- > end;) {
            if (is_damaged_row(lines_[i].text))
                first = i;
            else if (!told_apart || !holds_values(lines_[i].text))
                break;
        }
        return first;
    }

    /// As wide as a row, with a number in every cell but that of the time.
    [[nodiscard]] bool holds_values(std::string_view text) const {
        std::vector<std::string_view> cells;
        split(text, block_.dialect.delimiter, cells);
        if (cells.size() != block_.columns) return false;
        cells.erase(cells.begin() + static_cast<std::ptrdiff_t>(time_title(titles_).value_or(0)));
        return all_stamps(cells, block_.dialect.decimal);
    }

    [[nodiscard]] bool is_damaged_row(std::string_view text) const {
        const char decimal = block_.dialect.decimal;
        std::vector<std::string_view> cells;
        split(text, block_.dialect.delimiter, cells);
        if (cells.size() != block_.columns)
            return titles_at_ && cells.size() > 1 && all_stamps(cells, decimal);
        if (titles_at_ || units_at_) return is_value(cells[time_title(titles_).value_or(0)], decimal);
        // Nothing tells the first column but that it goes on rising.
        const Cell first = parse_cell(cells[0], decimal);
        const auto values = column_values(lines_, block_, 0);
        return first.kind == CellKind::number && !first.level_word && rises(values) &&
               first.value < values.front();
    }

    const std::vector<HeadLine>& lines_;
    RowBlock block_;
    std::size_t columns_in_use_;
    std::optional<SettingCells> settings_;
    Cells titles_;
    Cells units_;
    std::optional<std::size_t> titles_at_;
    std::optional<std::size_t> units_at_;
    std::optional<std::size_t> unmatched_;
};

}  // namespace

bool speaks_of_channels(const std::vector<std::string>& cells, char decimal) {
    std::size_t named = 0;
    std::size_t with_unit = 0;
    for (const std::string& cell : cells) {
        if (is_value(cell, decimal)) return false;
        if (trim(cell).empty()) continue;
        ++named;
        if (find_unit(split_title(cell).unit)) ++with_unit;
    }
    return (named > 1 && time_title(cells)) || 2 * with_unit > named;
}

FoundTitles find_titles(const std::vector<HeadLine>& lines, const RowBlock& block) {
    return Search(lines, block).run();
}

}  // namespace evenstroke::reading
